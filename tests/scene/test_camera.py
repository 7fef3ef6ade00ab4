import numpy as np
from numpy.testing import assert_allclose

from sitwell.scene.camera import camera_for, project_vertices, sensor_scale_mm
from sitwell.scene.setup import Setup

POINTS = np.array([[0.0, 0.0, 0.0], [100.0, 0.0, 0.0], [0.0, 50.0, 40.0], [-30.0, -80.0, -90.0]])


def test_the_aim_falls_in_the_middle_at_its_distance():
    camera = camera_for(Setup(camera_height_mm=400), [0.0, 0.0, 0.0])
    assert_allclose(camera.project([0.0, 0.0, 0.0]), [0, 0, 2000], atol=1e-9)


def test_camera_right_is_the_sitters_own_left_and_up_is_up():
    camera = camera_for(Setup(), [0.0, 0.0, 0.0])
    assert_allclose(camera.project(POINTS[1]), [0.05, 0, 2000], atol=1e-12)
    assert camera.project(POINTS[2])[1] > 0


def test_what_is_nearer_is_drawn_larger():
    camera = camera_for(Setup(distance_mm=600), [0.0, 0.0, 0.0])
    near, far = camera.project([[10.0, 0.0, 40.0], [10.0, 0.0, -90.0]])
    assert_allclose(near[0] / far[0], 690 / 560)


def test_the_fast_projection_is_the_plain_one():
    camera = camera_for(Setup(camera_height_mm=-250, distance_mm=1200), [5.0, -10.0, -80.0])
    x, y, near = (np.empty(len(POINTS)) for _ in range(3))
    project_vertices(POINTS, camera.lens_mm, camera.axes, x, y, near)
    assert_allclose(np.stack([x, y, 1 / near], axis=1), camera.project(POINTS), rtol=1e-12)


def test_the_sensor_scale_is_the_image_distance():
    # 85 mm at 1.5 m: 1 / (1/85 - 1/1500)
    assert_allclose(sensor_scale_mm(Setup(focal_mm=85), 1500), 1 / (1 / 85 - 1 / 1500))
