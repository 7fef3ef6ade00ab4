"""Glare against rays traced by Embree: lens to pane, mirrored, and on to the key or past it."""

import itertools

import numpy as np
import pytest

from sitwell.base.rotations import camera_axes
from sitwell.head.surface import build_head
from sitwell.scene.glasses_measures import Glasses, glare_measures
from sitwell.scene.lighting import key_place_mm
from sitwell.scene.setup import Setup
from sitwell.scene.view import Observer

embree = pytest.importorskip("embreex.mesh_construction")
from embreex.rtcore_scene import EmbreeScene  # noqa: E402

TILTS_DEG, CHINS_DEG, TURNS_DEG = (0, 8, 16), (-6, 4, 14), (0, 20)
KEYS_DEG = tuple(itertools.product((-50, -15, 0, 15, 45), (-10, 0, 10, 25, 45)))
STEPS, RIM = 41, 96
NEAR_DEG = 0.6  # our pane has 5 by 5 points, which leaves gaps of about this angle


@pytest.fixture(scope="module")
def observer():
    return Observer(build_head())


def scene_of(vertices, triangles):
    scene = EmbreeScene()
    embree.TriangleMesh(scene, vertices.astype(np.float32), triangles.astype(np.int32))
    return scene


def pane_corners(view, glasses, eye):
    """The pane's corners (4, 3): a plate before the eye, wrapped out, its top leaning forward."""
    side = 1.0 if eye == 0 else -1.0
    tilt, wrap = np.radians(glasses.tilt_deg), side * np.radians(glasses.wrap_deg)
    x, y = 0.5 * glasses.width_mm, 0.5 * glasses.height_mm
    plate = np.array([[-x, -y, 0], [x, -y, 0], [x, y, 0], [-x, y, 0]])
    lean = np.array([[1, 0, 0], [0, np.cos(tilt), -np.sin(tilt)], [0, np.sin(tilt), np.cos(tilt)]])
    out = np.array([[np.cos(wrap), 0, np.sin(wrap)], [0, 1, 0], [-np.sin(wrap), 0, np.cos(wrap)]])
    middle = view.anatomy.eyes[eye].centre_mm + np.array([0, 0, glasses.ahead_mm])
    return view.studio_from_head(plate @ lean.T @ out.T + middle)


def key_disc(setup):
    """Vertices (RIM + 1, 3) and triangles of the key, facing the sitter's eyes."""
    place = key_place_mm(setup)
    right, up, _ = camera_axes(place, [0.0, 0.0, 0.0])
    turns = np.linspace(0, 2 * np.pi, RIM, endpoint=False)[:, None]
    rim = place + 0.5 * setup.key_size_mm * (np.cos(turns) * right + np.sin(turns) * up)
    here = np.arange(RIM)
    triangles = np.stack([here, (here + 1) % RIM, np.full(RIM, RIM)], axis=1)
    return np.vstack([rim, place]), triangles


def mirrored_into_lens(view, glasses, eye):
    """Whether any ray from the lens to the pane goes on to the key."""
    corners = pane_corners(view, glasses, eye)
    pane = scene_of(corners, np.array([[0, 1, 2], [0, 2, 3]]))
    across, along = np.meshgrid(*[np.linspace(0.001, 0.999, STEPS)] * 2)
    aims = (
        corners[0]
        + across.reshape(-1, 1) * (corners[1] - corners[0])
        + along.reshape(-1, 1) * (corners[3] - corners[0])
    )
    lens = view.camera.lens_mm
    rays = aims - lens
    rays /= np.linalg.norm(rays, axis=1, keepdims=True)
    hits = pane.run(
        np.tile(lens, (len(rays), 1)).astype(np.float32), rays.astype(np.float32), output=True
    )
    met = hits["primID"] >= 0
    normals = hits["Ng"][met].astype(float)
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    there = lens + hits["tfar"][met, None] * rays[met]
    back = rays[met] - 2 * (rays[met] * normals).sum(axis=1, keepdims=True) * normals
    on_key = scene_of(*key_disc(view.setup)).run(
        (there + back).astype(np.float32), back.astype(np.float32)
    )
    return bool((on_key >= 0).any())


@pytest.mark.parametrize("size_mm", [300, 900])
def test_glare_is_where_a_mirrored_ray_meets_the_key(observer, size_mm):
    compared, glaring, wrong = 0, 0, []
    for tilt, chin, turn in itertools.product(TILTS_DEG, CHINS_DEG, TURNS_DEG):
        glasses = Glasses(tilt_deg=tilt)
        for azimuth, elevation in KEYS_DEG:
            setup = Setup(
                chin_deg=chin,
                turn_deg=turn,
                key_azimuth_deg=azimuth,
                key_elevation_deg=elevation,
                key_size_mm=size_mm,
            )
            view = observer.view(setup)
            for eye, margin in enumerate(glare_measures(view, glasses)):
                if abs(margin) < NEAR_DEG:
                    continue
                traced = mirrored_into_lens(view, glasses, eye)
                compared, glaring = compared + 1, glaring + traced
                if traced != (margin < 0):
                    wrong.append((tilt, chin, turn, azimuth, elevation, eye, margin))
    print(f"{compared} panes compared, {glaring} glare, {len(wrong)} differ")
    assert compared > 800
    assert glaring > 10
    assert not wrong
