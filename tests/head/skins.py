"""Pictures of a head whose skin carries a pattern of its own, drawn triangle by triangle."""

import numpy as np

from sitwell.head.pose import project
from sitwell.head.unroll import FacePicture
from sitwell.scene.raster import NOTHING, rasterise

SIZE_PX = 480
CENTRE = np.array([SIZE_PX / 2.0, SIZE_PX / 2.0])


def pattern(places_mm):
    """A brightness (n,) of 0..1 for places (n, 3) on the head: waves of 7 to 30 mm every way."""
    rng = np.random.default_rng(4)
    waves = sum(
        np.sin(places_mm @ (rng.normal(size=3) * 2.0 * np.pi / size) + rng.uniform(0, 6.3))
        for size in (30.0, 18.0, 12.0, 9.0, 9.0, 7.0, 7.0)
    )
    return 0.5 + 0.06 * waves


def photograph(head, pose, focal_px, own_places=None, light=1.0):
    """The head with its pattern, which ``own_places`` (V, 3) carry if the head is bent."""
    places = (head.vertices_mm if own_places is None else own_places).astype(np.float64)
    seen = head.vertices_mm @ pose.rotation.T + pose.place_mm
    px = project(head.vertices_mm.astype(np.float64), pose, focal_px, CENTRE)
    triangles = head.triangles
    shown = np.full((SIZE_PX, SIZE_PX), NOTHING, np.int32)
    nearest = np.zeros((SIZE_PX, SIZE_PX))
    rasterise(
        px[:, 0].copy(), px[:, 1].copy(), -1.0 / seen[:, 2], triangles,
        np.arange(len(triangles), dtype=np.int32), shown, nearest,
        np.zeros(len(triangles), np.int32),
    )  # fmt: skip
    row, column = np.nonzero(shown != NOTHING)
    corners = triangles[shown[row, column]]
    a, b, c = (px[corners[:, k]] for k in range(3))
    spot = np.stack([column, row], axis=1) + 0.5 - a
    matrix = np.stack([b - a, c - a], axis=2)
    share = np.linalg.solve(matrix, spot[:, :, None])[:, :, 0]
    weights = np.concatenate([1.0 - share.sum(axis=1, keepdims=True), share], axis=1)
    linear = np.full((SIZE_PX, SIZE_PX), 0.02)
    linear[row, column] = light * pattern(np.einsum("nc,nca->na", weights, places[corners]))
    bright = np.where(
        linear <= 0.0031308, 12.92 * linear, 1.055 * np.clip(linear, 0, 1) ** (1 / 2.4) - 0.055
    )
    grey = np.round(255.0 * bright).astype(np.uint8)
    return FacePicture(
        rgb=np.repeat(grey[:, :, None], 3, axis=2), origin_px=np.zeros(2), px_per_rgb_px=1.0
    )
