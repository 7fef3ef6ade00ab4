"""One invented picture of a head with hair and things over it, and all that is true of it.

Heads come from two families, in one mesh: our own, and ``families/second_heads.py``. Light, lens,
noise and backgrounds are drawn at random, widely rather than truly, so that a net that learns from
them leans on no single look.
"""

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from builders.learned.points import points_on
from builders.pictures.camera import photographed
from builders.pictures.canvas import (
    Canvas,
    Mesh,
    View,
    draw_mesh,
    draw_strokes,
)
from builders.pictures.hair_worn import grow
from builders.pictures.light import drawn_light, glaze, lit, rays_of
from builders.pictures.scene import Given, Scene, dressed, made_head, posed_scene, skin_colour
from builders.pictures.skin import bent_nose, roughened, smeared, woven
from sitwell.base.rotations import rotation_from_pose
from sitwell.face.features import CROP_PX, JUDGED, crop_on
from sitwell.face.parts import Part
from sitwell.face.points import NAMES
from sitwell.head.basis import landmarks_on
from sitwell.head.regions import Region
from sitwell.head.surface import SIDES, Head
from sitwell.head.template import load_template

Floats = NDArray[np.float32]
Bytes = NDArray[np.uint8]
FINE = 2  # rendered pixels to one of the crop
WIDEST_TURN_DEG = 88.0
# What a stock keeps of a picture: shape and kind by name; ``about`` is tone, turn, family, style
# and the hairline's height; ``shown`` says of each point whether nothing lies over it.
FIELDS: Mapping[str, tuple[tuple[int, ...], str]] = {
    "rgb": ((CROP_PX, CROP_PX, 3), "u1"),
    "label": ((CROP_PX, CROP_PX), "u1"),
    "places": ((len(NAMES), 2), "f4"),
    "shown": ((len(NAMES),), "u1"),
    "judged": ((len(JUDGED),), "f4"),
    "about": ((5,), "f4"),
}
# A thing counts as there from the first many mm2 of it on, as absent below the second.
_THERE_MM2: Mapping[str, tuple[float, float]] = {
    "glasses": (110.0, 30.0), "dark-glasses": (500.0, 150.0), "hat": (700.0, 120.0),
    "beard": (450.0, 80.0), "mask": (500.0, 100.0), "hand": (350.0, 60.0),
}  # fmt: skip
UNSURE = -1.0
_BARE = {"own_left": 200, "own_right": 201}
_BROW = 210


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A crop ``rgb`` (S, S, 3), labels (S, S) of ``Part``, where ``NAMES`` lie in it (P, 2), which
    of them nothing ``shown`` (P,) covers, and of each of ``JUDGED`` 1, 0 or UNSURE.
    """

    rgb: Bytes
    label: Bytes
    places: Floats
    shown: NDArray[np.bool_]
    judged: Floats
    tone: float
    style: str
    turn_deg: float
    second: bool
    line_mm: float


def make_picture(rng: np.random.Generator, given: Given, *, second: bool | None = None) -> Picture:
    """One picture, all drawn at random, of a family by chance or as told."""
    if second is None:
        second = rng.random() < 0.5
    second = second and given.heads is not None
    head, teeth = made_head(rng, given, second=second)
    head = dataclasses.replace(head, vertices_mm=bent_nose(head.vertices_mm, rng))
    skin = skin_colour(rng)
    grown = grow(head, rng, float(skin.mean()))
    scene = dressed(head, grown.hair, skin, teeth, rng)
    turn = rng.uniform(-1, 1) * WIDEST_TURN_DEG * rng.uniform(0.05, 1.0) ** 0.7
    rotation = rotation_from_pose(turn, rng.normal(0, 12), rng.normal(0, 10))
    place = np.array([rng.normal(0, 0.06), rng.normal(0, 0.06), -1.0])
    place = place * np.exp(rng.uniform(np.log(450), np.log(3500)))
    view = _view(head, rotation, place, float(turn), rng)
    size = FINE * CROP_PX
    canvas = Canvas.empty(size, size)
    posed = posed_scene(scene, rotation, place)
    bare = _bare(posed.meshes[0], view)
    for mesh in posed.meshes:
        draw_mesh(canvas, view, mesh)
    for strokes in posed.strokes:
        draw_strokes(canvas, view, strokes)
    rays = rays_of(canvas, view)
    roughened(canvas, rays, rotation, place, rng)
    woven(canvas, rays, rotation, place, rng)
    light = drawn_light(given, len(canvas.near), rng)
    linear = lit(canvas, view, posed, place, light)
    glaze(canvas, linear, view, posed, rng)
    linear = np.where(canvas.near[..., None] > 0, linear, light.behind)
    points = points_on(head, grown.hair.grows, grown.line_mm)
    spots, near = view.pixels((points @ rotation.T + place).astype(np.float32))
    spots, shown = _seen_points(canvas, spots, near)
    mm_px = -place[2] / view.px_per_unit
    return Picture(
        rgb=smeared(photographed(linear, (CROP_PX, CROP_PX), 1.2, rng), rng),
        label=canvas.label[::FINE, ::FINE],
        places=(spots / FINE).astype(np.float32),
        shown=shown,
        judged=_judged(canvas, bare, posed, view, float(mm_px), abs(float(turn))),
        tone=float(skin.mean()),
        style=grown.hair.style,
        turn_deg=float(turn),
        second=second,
        line_mm=grown.line_mm,
    )


def row_of(rng: np.random.Generator) -> dict[str, Any]:
    """One picture as a stock keeps it."""
    from builders.pictures.hair import STYLES
    from builders.pictures.hair_worn import WORN

    names = [*(name for name, _, _ in STYLES), *(name for name, _, _ in WORN[1:])]
    made = make_picture(rng, Given.from_environment())
    about = (made.tone, made.turn_deg, made.second, names.index(made.style), made.line_mm)
    return {
        "rgb": made.rgb, "label": made.label, "places": made.places, "shown": made.shown,
        "judged": made.judged, "about": about,
    }  # fmt: skip


def _bare(skin: Mesh, view: View) -> Bytes:
    """Which pixels each ear and the brows take where nothing is worn or grown, and the rest."""
    size = FINE * CROP_PX
    canvas = Canvas.empty(size, size)
    region = load_template().region_of_triangle
    marked = dataclasses.replace(skin, label=np.full(len(region), 1, np.uint8))
    for side in SIDES:
        marked.label[region == Region[f"EAR_{side.upper()}"]] = _BARE[side]
        marked.label[region == Region[f"BROW_{side.upper()}"]] = _BROW
    draw_mesh(canvas, view, marked)
    return canvas.label


def _judged(
    canvas: Canvas, bare: Bytes, scene: Scene, view: View, mm_px: float, turn_deg: float
) -> Floats:
    """What is there (1), not there (0) or between the two (UNSURE), in the order of JUDGED."""
    mm2 = mm_px**2
    area = {part: float((canvas.label == part).sum() * mm2) for part in Part}
    panes = _panes_mm2(scene, view) * mm2 if scene.panes else 0.0
    found = {
        "glasses": area[Part.GLASSES] + (200.0 if panes > 300.0 else 0.0),
        "dark-glasses": panes if scene.dark > 0.4 else 0.0,
        "hat": area[Part.HAT],
        "beard": area[Part.BEARD],
        "mask": area[Part.MASK],
        "hand": float(((canvas.label == Part.HAND) & (bare > 0)).sum() * mm2),
    }
    made = [
        1.0 if found[name] > most else 0.0 if found[name] < least else UNSURE
        for name, (most, least) in _THERE_MM2.items()
    ]
    if scene.moustache:  # some call it a beard
        made[list(_THERE_MM2).index("beard")] = UNSURE
    brows = bare == _BROW
    over = np.isin(canvas.label[brows], (Part.HAIR, Part.HAT)).mean() if brows.sum() > 60 else 0.5
    made.append(1.0 if over > 0.45 else 0.0 if over < 0.15 else UNSURE)
    for side in SIDES:
        ear = bare == _BARE[side]
        whole = float(ear.sum() * mm2)
        seen = float((canvas.label[ear] == Part.EAR).sum() * mm2)
        share = seen / max(whole, 1.0)
        made.append(
            0.0 if whole < 60.0 or share < 0.3 else 1.0 if whole > 120.0 and share > 0.8 else UNSURE
        )
    return np.array(made, np.float32)


def _panes_mm2(scene: Scene, view: View) -> float:
    total = 0.0
    for pane in scene.panes:
        xy, _ = view.pixels(pane.points_mm)
        total += abs(float(cv2.contourArea(xy[1:].astype(np.float32))))
    return total


def _seen_points(canvas: Canvas, spots: Floats, near: Floats) -> tuple[Floats, NDArray[np.bool_]]:
    """The points' pixels, the head's top where its picture ends, and what nothing lies over."""
    high, wide = canvas.near.shape
    spots = spots.copy()
    own = np.isin(canvas.label, (Part.SKIN, Part.EAR, Part.HAIR, Part.HAT))
    crown, top = NAMES.index("crown"), NAMES.index("head_top")
    middle = int(np.clip(spots[crown, 0], 60, wide - 60))
    column = own[:, middle - 60 : middle + 60]
    rows = np.flatnonzero(column.sum(axis=1) > 3)
    if len(rows):
        spots[top] = np.flatnonzero(column[rows[0]]).mean() + middle - 60, rows[0]
    columns = np.clip(spots[:, 0].astype(int), 0, wide - 1)
    rows_at = np.clip(spots[:, 1].astype(int), 0, high - 1)
    before = 1.0 / near - 1.0 / np.maximum(canvas.near[rows_at, columns], 1e-6)
    what = canvas.label[rows_at, columns]
    shown = np.isin(what, (Part.SKIN, Part.EAR, Part.BACKGROUND)) & (before < 6.0)
    shown[crown], shown[top] = what[crown] != Part.HAT, bool(len(rows))
    line = np.array([name.startswith("hairline") for name in NAMES])
    shown |= line & (what == Part.HAIR) & (before < 6.0)
    return spots, shown


def _view(
    head: Head, rotation: Floats, place: Floats, turn_deg: float, rng: np.random.Generator
) -> View:
    """The crop as the reader would lay it, off as landmarks are, the more the farther turned."""
    points = landmarks_on(head) @ rotation.T + place
    picture = points[:, :2] / -points[:, 2:] * [1000.0, -1000.0]
    mm, more = 1000.0 / -place[2], 1.0 + abs(turn_deg) / 45.0
    crop = crop_on(picture + rng.normal(0, 2.0 * mm, 2) + rng.normal(0, 1.5 * mm, picture.shape))
    turn, size = rng.normal(0, np.radians(4.0)) * more, np.exp(rng.normal(0, 0.06) * more)
    spin = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]]) * size
    to_crop = np.linalg.inv(crop.axes_px) @ spin * FINE  # row vectors
    middle = FINE * CROP_PX / 2 + rng.normal(0, 4.0 * FINE, 2) * more
    eyes = crop.to_picture(np.array([[CROP_PX / 2, CROP_PX / 2]]))[0]
    axes = 1000.0 * to_crop.T
    return View(axes=axes.astype(np.float32), origin=(middle - eyes @ to_crop).astype(np.float32))
