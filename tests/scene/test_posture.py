import numpy as np
import pytest
from numpy.testing import assert_allclose

from sitwell.base.rotations import rotation_from_pose
from sitwell.head.regions import Region
from sitwell.head.surface import build_head
from sitwell.scene.posture import follow_weights, move_vertices, on_open_edge
from sitwell.scene.setup import Setup


def pose_head(head, setup):
    """Vertices (V, 3) in mm of the head in the set-up's pose, eyes as modelled."""
    vertices = head.vertices_mm.astype(np.float64)
    posed = np.empty_like(vertices)
    move_vertices(
        vertices,
        follow_weights(head),
        head.neck_pivot_mm.astype(np.float64),
        rotation_from_pose(setup.turn_deg, setup.chin_deg, setup.tilt_deg),
        setup.chin_forward_mm,
        posed,
    )
    return posed


@pytest.fixture(scope="module")
def head():
    return build_head()


@pytest.fixture(scope="module")
def skull(head):
    return np.unique(head.triangles[head.region_of_triangle != Region.NECK])


@pytest.fixture(scope="module")
def neck_root(head):
    edge = on_open_edge(head.triangles, len(head.vertices_mm))
    neck = np.zeros(len(head.vertices_mm), dtype=bool)
    neck[head.triangles[head.region_of_triangle == Region.NECK]] = True
    return np.flatnonzero(edge & neck)


def test_the_neutral_pose_is_the_head_itself(head):
    assert_allclose(pose_head(head, Setup()), head.vertices_mm, atol=1e-4)


def test_the_skull_turns_rigidly_about_the_pivot(head, skull):
    setup = Setup(turn_deg=30, chin_deg=10, tilt_deg=-5, chin_forward_mm=20)
    rotation = rotation_from_pose(30, 10, -5)
    turned = (head.vertices_mm[skull] - head.neck_pivot_mm) @ rotation.T
    slid = head.neck_pivot_mm + np.array([0, 0, 20])
    assert_allclose(pose_head(head, setup)[skull], turned + slid, atol=1e-3)


def test_the_necks_root_stays(head, neck_root):
    assert len(neck_root) > 10
    posed = pose_head(head, Setup(turn_deg=40, chin_deg=-10, chin_forward_mm=30))
    assert_allclose(posed[neck_root], head.vertices_mm[neck_root], atol=1e-4)


def test_the_neck_follows_without_a_step(head):
    weights = follow_weights(head)
    assert weights.min() == 0
    assert weights.max() == 1
    edges = head.triangles[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2)
    steps = np.abs(weights[edges[:, 0]] - weights[edges[:, 1]])
    assert steps.max() < 0.4


def test_no_neck_triangle_turns_inside_out(head):
    corners = pose_head(head, Setup(turn_deg=50))[head.triangles]
    areas = np.linalg.norm(
        np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1
    )
    before = head.vertices_mm[head.triangles].astype(float)
    neutral = np.linalg.norm(
        np.cross(before[:, 1] - before[:, 0], before[:, 2] - before[:, 0]), axis=1
    )
    neck = head.region_of_triangle == Region.NECK
    assert (areas[neck] > 0.2 * neutral[neck]).mean() > 0.99


def test_turn_chin_and_tilt_carry_nose_and_crown_as_the_glossary_says(head):
    tip = np.argmax(head.vertices_mm[:, 2])
    crown = np.argmax(head.vertices_mm[:, 1])
    rest = head.vertices_mm
    assert pose_head(head, Setup(turn_deg=20))[tip, 0] > rest[tip, 0]
    assert pose_head(head, Setup(chin_deg=10))[tip, 1] > rest[tip, 1]
    assert pose_head(head, Setup(tilt_deg=10))[crown, 0] > rest[crown, 0]
    assert_allclose(
        pose_head(head, Setup(chin_forward_mm=25))[tip], rest[tip] + [0, 0, 25], atol=1e-3
    )
