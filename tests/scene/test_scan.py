"""Scanned heads: our own head, roughened as a scan, comes back.

These scans are made from our own head, so they say how well the way back works and nothing of how
well real scanners work. A face mesh of other makers is in tests/published.
"""

import numpy as np
import pytest
import trimesh
from numpy.testing import assert_allclose
from scipy.spatial import cKDTree

from sitwell.base.errors import HeadError, ModelError
from sitwell.face.model import model_path
from sitwell.head.basis import landmarks_on
from sitwell.head.facing import vertex_normals
from sitwell.head.level import head_as_dict
from sitwell.head.regions import Region
from sitwell.head.surface import build_head
from sitwell.scene.measures import NAMES, Evaluator
from sitwell.scene.preview import Sculpture
from sitwell.scene.refine import refine
from sitwell.scene.scan import read_scan
from sitwell.scene.setup import Setup

SHAPE = {"ear_wing": 0.45, "nose_lean": -0.35, "nose_length": 0.2, "eye_opening": 0.3}
NOISE_MM = 0.3


@pytest.fixture(scope="module", autouse=True)
def _model():
    try:
        model_path()
    except ModelError:
        pytest.skip("the landmark model has not been brought")


@pytest.fixture(scope="module")
def head():
    return build_head(SHAPE)


def write(head, path, *, unit_mm=1.0, seed=1, kept=None, tilted=True):
    """The head as a scanner may give it: finer, noisy, any way up, in another unit."""
    rng = np.random.default_rng(seed)
    vertices = head.vertices_mm.astype(np.float64)
    finer = refine(vertices, head.triangles, vertex_normals(vertices, head.triangles))
    places = finer.places(vertices, np.eye(3))
    shown = np.repeat(head.region_of_triangle != Region.SOCKET, 4)
    if kept is not None:
        shown &= kept(places[finer.triangles].mean(axis=1))
    turn = np.linalg.qr(rng.normal(size=(3, 3)))[0]
    turn *= np.sign(np.linalg.det(turn))
    noisy = places + rng.normal(0.0, NOISE_MM, places.shape)
    lying = (noisy @ turn.T if tilted else noisy) / unit_mm + rng.normal(size=3)
    trimesh.Trimesh(lying, finer.triangles[shown], process=False).export(path)
    return path


def off_surface(found, head):
    """Each vertex's distance (V,) in mm from the true surface, the two laid on each other."""
    skin = np.unique(head.triangles[head.region_of_triangle != Region.SOCKET])
    true, have = head.vertices_mm.astype(np.float64), found.vertices_mm.astype(np.float64)
    middle, true_middle = have[skin].mean(axis=0), true[skin].mean(axis=0)
    u, _, vt = np.linalg.svd((true[skin] - true_middle).T @ (have[skin] - middle))
    laid = (have - middle) @ (u @ vt).T + true_middle
    normals = vertex_normals(true, head.triangles)
    finer = refine(true, head.triangles, normals)
    places = finer.places(true, np.eye(3))
    _, nearest = cKDTree(places).query(laid)
    return np.abs(((laid - places[nearest]) * finer.spread(normals)[nearest]).sum(axis=1))


@pytest.fixture(scope="module")
def scan(tmp_path_factory, head):
    return read_scan(write(head, tmp_path_factory.mktemp("scan") / "head.ply", unit_mm=1000.0))


def test_the_surface_comes_back_within_the_scan_s_noise(scan, head):
    off = off_surface(scan.head, head)
    for region in ("CHEEK_OWN_LEFT", "NOSE_TIP", "CHIN", "FOREHEAD", "EAR_OWN_LEFT", "SCALP"):
        mine = np.unique(head.triangles[head.region_of_triangle == Region[region]])
        assert off[mine].mean() < 2.0 * NOISE_MM, region
        assert off[mine].max() < 2.0, region
    assert scan.off_mm < NOISE_MM
    assert scan.covered > 0.95


def test_its_measures_are_the_head_s(scan, head):
    setup = Setup(turn_deg=20.0)
    true, found = (
        dict(zip(NAMES, Evaluator(each).evaluate(setup), strict=True)) for each in (head, scan.head)
    )
    for name, share in {
        "nose_length": 0.05, "nose_width": 0.05, "face_breadth": 0.03, "forehead_share": 0.06,
        "ear_out_own_right": 0.06, "eye_open_own_left": 0.2, "eye_open_own_right": 0.2,
    }.items():  # fmt: skip
        assert found[name] == pytest.approx(true[name], rel=share), name
    assert np.sign(found["nose_lean"]) == np.sign(true["nose_lean"])


def test_it_serves_like_a_fitted_head(scan, head):
    assert np.array_equal(scan.head.triangles, head.triangles)
    assert landmarks_on(scan.head).shape == (468, 3)
    assert Sculpture(scan.head).render(Setup(), 64, 80).std() > 10.0
    kept = head_as_dict(scan.head, np.eye(3))
    assert set(kept) == {"shape", "hairline_mm", "neutral"}
    for side, centre in scan.head.eye_centre_mm.items():
        ball = np.linalg.norm(scan.head.point(f"iris_{side}") - centre)
        assert_allclose(ball, scan.head.eye_radius_mm, atol=0.2)


def test_it_says_what_the_unit_was_and_whose_the_eyes_are(scan):
    assert scan.notes == (
        "The scan is taken to be in metres, from the size of the face.",
        "Eyeballs, lids' edges, inner nostrils and mouth are the head model's, since scans blur "
        "them; all else lies on the scan, hair included.",
    )


def test_a_unit_nobody_uses_is_said_to_be_a_guess(tmp_path, head):
    found = read_scan(write(head, tmp_path / "odd.obj", unit_mm=3.3, tilted=False))
    assert found.notes[0] == (
        "The scan is in no usual unit, so its face was sized as a mean one (63 mm between the "
        "pupils); its millimetres are a guess."
    )


def test_a_hole_is_closed_by_the_model_and_said(tmp_path, head):
    path = tmp_path / "open.glb"
    found = read_scan(write(head, path, unit_mm=10.0, tilted=False, kept=lambda at: at[:, 2] > -95))
    assert 0.4 < found.covered < 0.85
    assert found.notes[0].startswith("The scan is taken to be in centimetres")
    assert found.notes[2] == (
        f"The scan leaves {100 * (1 - found.covered):.0f} % of the head open; there the head model "
        "stands in."
    )
    nose = np.unique(head.triangles[head.region_of_triangle == Region.NOSE_TIP])
    assert off_surface(found.head, head)[nose].mean() < 1.0


def test_what_has_no_face_is_said(tmp_path):
    path = tmp_path / "ball.ply"
    trimesh.creation.icosphere(subdivisions=3).export(path)
    with pytest.raises(HeadError, match=r"No face is seen on the scan 'ball\.ply' from any side; "):
        read_scan(path)
