import numpy as np
import pytest
from numpy.testing import assert_allclose

from sitwell.head.surface import SIDES, build_head
from sitwell.scene.gaze import GAZE_LIMIT_DEG, find_eyes, look_at
from sitwell.scene.setup import Setup
from sitwell.scene.view import Observer


@pytest.fixture(scope="module")
def head():
    return build_head()


def looked(head, target_mm):
    vertices = head.vertices_mm.astype(float)
    eyes = find_eyes(head)
    for eye in eyes:
        look_at(vertices, eye, np.asarray(target_mm, dtype=float))
    return vertices, eyes


def iris_direction(head, vertices, eye, side):
    triangle, weights = head.point_anchors[f"iris_{side}"]
    iris = weights @ vertices[head.triangles[triangle]] - eye.centre_mm
    return iris / np.linalg.norm(iris)


@pytest.mark.parametrize("target_mm", [[0, 0, 1500], [500, 200, 1500], [-800, -300, 1200]])
def test_both_irises_face_the_target(head, target_mm):
    vertices, eyes = looked(head, target_mm)
    for eye, side in zip(eyes, SIDES, strict=True):
        wanted = target_mm - eye.centre_mm
        wanted /= np.linalg.norm(wanted)
        assert_allclose(iris_direction(head, vertices, eye, side), wanted, atol=2e-3)


def test_eyes_stop_at_their_limit(head):
    vertices, eyes = looked(head, [3000, 0, 100])
    for eye, side in zip(eyes, SIDES, strict=True):
        x, _, z = iris_direction(head, vertices, eye, side)
        assert_allclose(np.degrees(np.arctan2(x, z)), GAZE_LIMIT_DEG, atol=0.5)


def test_the_eyeball_stays_round_and_the_lids_keep_their_height(head):
    rest = head.vertices_mm.astype(float)
    vertices, eyes = looked(head, [400, 500, 1500])
    for eye in eyes:
        for part in (eye.ball, eye.lids):
            before = np.linalg.norm(rest[part] - eye.centre_mm, axis=1)
            after = np.linalg.norm(vertices[part] - eye.centre_mm, axis=1)
            assert_allclose(after, before, atol=1e-9)


def opening_mm(head, vertices, side):
    places = {}
    for lid in ("upper", "lower"):
        triangle, weights = head.point_anchors[f"lid_{lid}_{side}"]
        places[lid] = weights @ vertices[head.triangles[triangle]]
    return float(np.linalg.norm(places["upper"] - places["lower"]))


@pytest.mark.parametrize("side", SIDES)
def test_looking_down_narrows_the_opening_as_read_2006_measured(head, side):
    # Read 2006, Optom Vis Sci 83(10): 9.7 mm straight ahead, 6.4 mm at 40 degrees down, so
    # 1.65 mm at 20 degrees; spread of the means 1.2 mm. Along the ball an arc, so 0.4 mm slack.
    ahead, _ = looked(head, [0, 0, 1e6])
    down, _ = looked(head, [0, -np.tan(np.radians(20)) * 1e6, 1e6])
    narrowing = opening_mm(head, ahead, side) - opening_mm(head, down, side)
    assert_allclose(narrowing, 20 * (9.7 - 6.4) / 40, atol=0.4)


def test_looking_ahead_leaves_the_head_as_it_is(head):
    observer = Observer(head)
    view = observer.view(Setup(gaze="ahead"))
    assert_allclose(view.local_mm, head.vertices_mm, atol=1e-5)
