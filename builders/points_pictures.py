"""One invented picture of the middle of a face, and where named points of the head lie in it.

Drawn as ``parts_pictures.py`` draws, with noses more uneven, skin that tells less, and more ways
of wearing hair.
"""

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from builders import parts_hair as plain
from builders.parts_camera import background, photographed
from builders.parts_canvas import Canvas, View, draw_mesh, draw_strokes
from builders.parts_pictures import (
    WIDEST_TURN_DEG,
    dressed,
    glaze,
    lights_about,
    lit,
    made_head,
    posed_scene,
    rays_of,
)
from builders.points_hair import WORN, grow
from builders.points_skin import bent_nose, roughened, smeared
from sitwell.base.rotations import direction_from_angles, rotation_from_pose
from sitwell.face.parts import Part
from sitwell.face.points import EYES_AT_PX, HIGH_PX, NAMES, WIDE_PX, crop_on
from sitwell.head.basis import landmarks_on
from sitwell.head.surface import Head
from sitwell.head.template import load_template

Floats = NDArray[np.float32]
Bytes = NDArray[np.uint8]
FINE = 1.5  # rendered pixels to one of the crop
_BLUR = 1.4
# What a stock keeps of a picture: shape and kind by name; ``about`` is tone, turn, hair's line, how
# far the nose leans, and which way of wearing hair it is.
FIELDS: Mapping[str, tuple[tuple[int, ...], str]] = {
    "rgb": ((HIGH_PX, WIDE_PX, 3), "u1"),
    "places": ((len(NAMES), 2), "f4"),
    "covered": ((len(NAMES),), "u1"),
    "about": ((5,), "f4"),
}
STYLES = (*(name for name, _, _ in plain.STYLES), *(name for name, _, _ in WORN[1:]))


@dataclass(frozen=True, slots=True, kw_only=True)
class PointsPicture:
    """A crop ``rgb`` (H, W, 3), where ``NAMES`` lie in it (P, 2), and what was drawn.

    ``covered`` (P,) says of each point whether something worn, held or grown lies over it;
    ``line_mm`` how far above the mean one hair begins up the middle, nan on a bald head.
    """

    rgb: Bytes
    places: Floats
    covered: NDArray[np.bool_]
    tone: float
    style: str
    turn_deg: float
    line_mm: float
    lean_mm: float


def make_points_picture(rng: np.random.Generator, *, fine: int = 1) -> PointsPicture:
    """One picture, all drawn at random; ``fine`` times as large as the crop."""
    head = made_head(rng)
    head = dataclasses.replace(head, vertices_mm=bent_nose(head.vertices_mm, rng))
    tone = float(np.exp(rng.uniform(np.log(0.03), np.log(0.6))))
    skin = tone * np.array([1.0, rng.uniform(0.58, 0.8), rng.uniform(0.38, 0.65)])
    grown = grow(head, rng)
    scene = dressed(head, grown.hair, skin.clip(0.01, 0.85), rng)
    turn = rng.uniform(-WIDEST_TURN_DEG, WIDEST_TURN_DEG) * rng.uniform(0.1, 1.0)
    rotation = rotation_from_pose(turn, rng.normal(0, 11), rng.normal(0, 9))
    place = np.array([rng.normal(0, 0.06), rng.normal(0, 0.06), -1.0]) * rng.uniform(550, 3000)
    scale = max(FINE, float(fine))
    view = _view(head, rotation, place, scale, rng)
    canvas = Canvas.empty(round(scale * HIGH_PX), round(scale * WIDE_PX))
    posed = posed_scene(scene, rotation, place)
    for mesh in posed.meshes:
        draw_mesh(canvas, view, mesh)
    for strokes in posed.strokes:
        draw_strokes(canvas, view, strokes)
    roughened(canvas, rays_of(canvas, view), rotation, place, rng)
    linear = lit(canvas, view, posed, place, _lights(rng), rng)
    glaze(canvas, linear, view, posed, rng)
    high, wide = canvas.near.shape
    behind = background(high, rng)[:, (high - wide) // 2 :][:, :wide]
    linear = np.where(canvas.near[..., None] > 0, linear, behind)
    points = _points(head, grown.line_mm)
    camera = (points @ rotation.T + place).astype(np.float32)
    spots, near = view.pixels(camera)
    size = (round(fine * HIGH_PX), round(fine * WIDE_PX))
    return PointsPicture(
        rgb=smeared(photographed(linear, size, _BLUR * fine, rng), rng),
        places=(spots / scale).astype(np.float32),
        covered=_covered(canvas, spots, near),
        tone=tone,
        style=grown.hair.style,
        turn_deg=float(turn),
        line_mm=grown.line_mm,
        lean_mm=float(head.point("nose_tip")[0]),
    )


def row_of(rng: np.random.Generator) -> dict[str, Any]:
    """One picture as a stock keeps it."""
    made = make_points_picture(rng)
    style = STYLES.index(made.style)
    about = (made.tone, made.turn_deg, made.line_mm, made.lean_mm, style)
    return {"rgb": made.rgb, "places": made.places, "covered": made.covered, "about": about}


def _points(head: Head, line_mm: float) -> Floats:
    """The points (P, 3) in the head frame; the hairline where hair truly begins."""
    places = {name: np.asarray(head.point(name), dtype=float) for name in NAMES}
    if np.isfinite(line_mm):
        triangle, weights = load_template().hairline_walk[int(line_mm)]
        places["hairline"] = weights @ head.vertices_mm[head.triangles[triangle]]
    return np.array([places[name] for name in NAMES])


def _covered(canvas: Canvas, spots: Floats, near: Floats) -> NDArray[np.bool_]:
    """Which points something else lies over, or the head itself hides by more than 6 mm."""
    high, wide = canvas.near.shape
    column = np.clip(spots[:, 0].astype(int), 0, wide - 1)
    row = np.clip(spots[:, 1].astype(int), 0, high - 1)
    before = 1.0 / near - 1.0 / np.maximum(canvas.near[row, column], 1e-6)
    other = ~np.isin(canvas.label[row, column], (Part.SKIN, Part.EAR, Part.HAIR, Part.BACKGROUND))
    return np.asarray(other | (before > 6.0))


def _lights(rng: np.random.Generator) -> Floats:
    """A key and more, now and then so weak that the light is nearly even, or two alike."""
    lights = lights_about(rng)
    kind = rng.random()
    if kind < 0.2:
        lights[:, 3:] *= rng.uniform(0.03, 0.4)
    elif kind < 0.35:  # from both sides
        azimuth, elevation = rng.uniform(20, 90), rng.uniform(-10, 50)
        pair = [direction_from_angles(s * azimuth, elevation) for s in (-1.0, 1.0)]
        own = rng.uniform(0.2, 0.9, 2)[:, None] * np.exp(rng.normal(0, 0.1, (2, 3)))
        lights = np.vstack([np.hstack([pair, own]), lights[1:]])
    elif kind < 0.45:  # from straight before or above
        lights[0, :3] = direction_from_angles(rng.normal(0, 8), rng.uniform(0, 60))
    return lights.astype(np.float32)


def _view(
    head: Head, rotation: Floats, place: Floats, scale: float, rng: np.random.Generator
) -> View:
    """The crop as the reader would lay it, a little off as landmarks are."""
    points = landmarks_on(head) @ rotation.T + place
    picture = points[:, :2] / -points[:, 2:] * [1000.0, -1000.0]
    mm = 1000.0 / -place[2]
    crop = crop_on(picture + rng.normal(0, 2.0 * mm, 2) + rng.normal(0, 1.5 * mm, picture.shape))
    turn, size = rng.normal(0, np.radians(4.0)), np.exp(rng.normal(0, 0.06))
    spin = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]]) * size
    to_crop = np.linalg.inv(crop.axes_px) @ spin * scale  # row vectors
    middle = scale * (np.array(EYES_AT_PX) + rng.normal(0, 6.0, 2))
    eyes = crop.to_picture(np.array([EYES_AT_PX]))[0]
    axes = 1000.0 * to_crop.T
    return View(axes=axes.astype(np.float32), origin=(middle - eyes @ to_crop).astype(np.float32))
