"""The rasteriser against rays cast by Embree through the same pixel centres."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sitwell.head.surface import build_head
from sitwell.scene.setup import Setup
from sitwell.scene.view import HEIGHT_PX, WIDTH_PX, Observer

embree = pytest.importorskip("embreex.mesh_construction")
from embreex.rtcore_scene import EmbreeScene  # noqa: E402

SETUPS = [
    Setup(),
    Setup(turn_deg=25, chin_deg=5, tilt_deg=-6),
    Setup(turn_deg=-45, chin_deg=-10, camera_height_mm=300),
    Setup(turn_deg=10, chin_deg=15, camera_height_mm=-300, distance_mm=900),
]


def rays_through_pixels(observer, view):
    """Directions (H * W, 3) through the centres of the view's pixels."""
    left, top, scale = observer.canvas_corner
    rows, columns = np.mgrid[:HEIGHT_PX, :WIDTH_PX] + 0.5
    u, v = left + columns / scale, top - rows / scale
    up_x, up_y = view.frame.up
    x = view.frame.origin[0] + view.frame.face_height * (u * up_y + v * up_x)
    y = view.frame.origin[1] + view.frame.face_height * (v * up_y - u * up_x)
    ahead = np.stack([x, y, -np.ones_like(x)], axis=-1)
    return (ahead @ view.camera.axes).reshape(-1, 3)


def cast(view, directions):
    """Triangle (H * W,) and depth of Embree's first hit, -1 where there is none.

    Embree gets what the rasteriser draws: all but the surfaces nobody should see.
    """
    drawn = view.anatomy.drawn_triangles
    scene = EmbreeScene()
    embree.TriangleMesh(
        scene,
        view.posed_mm.astype(np.float32),
        view.anatomy.triangles[drawn].astype(np.int32),
    )
    origins = np.tile(view.camera.lens_mm, (len(directions), 1)).astype(np.float32)
    hits = scene.run(origins, directions.astype(np.float32), output=True)
    hit = hits["primID"]
    return np.where(hit >= 0, drawn[hit], -1), hits["tfar"]


@pytest.fixture(scope="module")
def observer():
    return Observer(build_head({"ear_wing": 0.5}))


@pytest.mark.parametrize("setup", SETUPS, ids=lambda s: f"turn {s.turn_deg:g}")
def test_agrees_with_embree_pixel_by_pixel(observer, setup):
    view = observer.view(setup)
    directions = rays_through_pixels(observer, view)
    triangles, depths = cast(view, directions)
    ours = view.shown.reshape(-1)
    same = ours == triangles
    print(f"{setup.turn_deg:g}: {100 * same.mean():.4f} % of {len(same)} pixels agree")
    assert same.mean() > 0.999
    hit = same & (triangles >= 0)
    assert hit.sum() > 10_000  # the head fills a good part of the canvas
    # single-precision rays at 2 m: a few hundredths of a millimetre
    assert_allclose(1.0 / view.nearest.reshape(-1)[hit], depths[hit], atol=0.05)
