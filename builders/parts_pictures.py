"""One invented picture of a face with hair and things over it, and what each pixel shows.

Shapes and faces pulled come from our own head; light, lens, noise and backgrounds are drawn at
random, widely rather than truly, so that a net that learns from them leans on no single look.
"""

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from builders import parts_things as things
from builders.face_pulls import pulled_face
from builders.parts_camera import background, photographed
from builders.parts_canvas import (
    SHADOW_PX,
    SKIN,
    SURFACE,
    Canvas,
    Mesh,
    Strokes,
    View,
    cast_depth,
    cast_spots,
    draw_mesh,
    draw_strokes,
    light_pixels,
)
from builders.parts_hair import Hair, grow_beard, grow_brows, grow_hair
from sitwell.base.rotations import direction_from_angles, rotation_from_pose
from sitwell.face.parts import CROP_PX, Part, crop_on
from sitwell.head.basis import landmarks_on
from sitwell.head.prior import drawn_sigma
from sitwell.head.regions import Region
from sitwell.head.surface import SIDES, Head, head_from_values
from sitwell.head.template import load_template

Floats = NDArray[np.float32]
Bytes = NDArray[np.uint8]
FINE = 2  # rendered pixels to one of the crop
WIDEST_TURN_DEG = 65.0
# What a stock keeps of a picture: shape and kind by name.
FIELDS: Mapping[str, tuple[tuple[int, ...], str]] = {
    "rgb": ((CROP_PX, CROP_PX, 3), "u1"),
    "label": ((FINE * CROP_PX, FINE * CROP_PX), "u1"),
    "about": ((2,), "f4"),
}
_OTHER_EAR = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """Everything in front of the lens, in the head frame until posed."""

    meshes: list[Mesh]
    strokes: list[Strokes]
    panes: list[Mesh]
    dark: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A crop ``rgb`` (S, S, 3), labels (FINE S, FINE S) of ``Part``, and what was drawn.

    Of each ear, own left first, in fine pixels: ``ear_px`` (2, 3, 2) its top, outer and lobe
    points, ``ear_bare`` (2,) how many pixels of it nothing on the head itself hides.
    """

    rgb: Bytes
    label: Bytes
    tone: float
    style: str
    turn_deg: float
    ear_px: Floats
    ear_bare: Floats


def make_picture(rng: np.random.Generator, *, fine: bool = False) -> Picture:
    """One picture, all drawn at random; ``fine`` gives the rgb at the labels' size too."""
    head = made_head(rng)
    tone = float(np.exp(rng.uniform(np.log(0.03), np.log(0.6))))
    skin = tone * np.array([1.0, rng.uniform(0.58, 0.8), rng.uniform(0.38, 0.65)])
    hair = grow_hair(head, rng)
    scene = dressed(head, hair, skin.clip(0.01, 0.85), rng)
    turn = rng.uniform(-WIDEST_TURN_DEG, WIDEST_TURN_DEG) * rng.uniform(0.2, 1.0)
    rotation = rotation_from_pose(turn, rng.normal(0, 12), rng.normal(0, 9))
    place = np.array([rng.normal(0, 0.06), rng.normal(0, 0.06), -1.0]) * rng.uniform(550, 3000)
    view = _view(head, rotation, place, rng)
    canvas = Canvas.empty(FINE * CROP_PX, FINE * CROP_PX)
    posed = posed_scene(scene, rotation, place)
    for mesh in posed.meshes:
        draw_mesh(canvas, view, mesh)
    for strokes in posed.strokes:
        draw_strokes(canvas, view, strokes)
    linear = lit(canvas, view, posed, place, lights_about(rng), rng)
    glaze(canvas, linear, view, posed, rng)
    behind = background(FINE * CROP_PX, rng)
    linear = np.where(canvas.near[..., None] > 0, linear, behind)
    size = FINE * CROP_PX if fine else CROP_PX
    ears = np.array(
        [
            [head.point(f"{stem}_{side}") for stem in ("ear_top", "ear_outer", "ear_lobe")]
            for side in SIDES
        ]
    ).reshape(-1, 3)
    return Picture(
        rgb=photographed(linear, (size, size), size / CROP_PX, rng),
        label=canvas.label,
        tone=tone,
        style=hair.style,
        turn_deg=float(turn),
        ear_px=view.pixels((ears @ rotation.T + place).astype(np.float32))[0].reshape(2, 3, 2),
        ear_bare=_bare_ears(posed.meshes[0], view) if fine else np.zeros(2),
    )


def row_of(rng: np.random.Generator) -> dict[str, Any]:
    """One picture as a stock keeps it."""
    made = make_picture(rng)
    return {"rgb": made.rgb, "label": made.label, "about": (made.tone, made.turn_deg)}


def _bare_ears(skin: Mesh, view: View) -> Floats:
    """Pixels (2,) of each ear, own left first, with nothing worn or grown over it."""
    canvas = Canvas.empty(FINE * CROP_PX, FINE * CROP_PX)
    marked = dataclasses.replace(skin, label=skin.label.copy())
    ears = np.flatnonzero(skin.label == Part.EAR)
    is_own_right = load_template().region_of_triangle[ears] == Region.EAR_OWN_RIGHT
    marked.label[ears[is_own_right]] = _OTHER_EAR
    draw_mesh(canvas, view, marked)
    return np.array(
        [(canvas.label == Part.EAR).sum(), (canvas.label == _OTHER_EAR).sum()], np.float32
    )


def made_head(rng: np.random.Generator) -> Head:
    """A head with an expression, widely varied and kneaded."""
    template = load_template()
    shape = rng.normal(size=len(drawn_sigma())) * drawn_sigma() * rng.uniform(0.8, 1.4)
    ears = np.array([name.startswith("ear") for name in template.shape_names])
    shape[ears] *= rng.uniform(0.8, 1.7)
    expression = pulled_face(rng, template.expression_names)
    hairline_mm = float(np.clip(rng.normal(4, 14), -20, 40))
    head = head_from_values(
        template, shape.astype(np.float32), expression.astype(np.float32), hairline_mm
    )
    return dataclasses.replace(head, vertices_mm=_kneaded(head.vertices_mm, rng))


def _kneaded(vertices: Floats, rng: np.random.Generator) -> Floats:
    """A surface pushed about by a millimetre or two, so that nothing is learned too exactly."""
    moved = vertices.astype(np.float64)
    for size_mm, amount_mm in ((45.0, 1.6), (14.0, 0.5)):
        wave = np.sin(vertices @ rng.normal(0, 1 / size_mm, (3, 3)) + rng.uniform(0, 6.3, 3))
        moved += wave * amount_mm * rng.random()
    return moved.astype(np.float32)


def dressed(head: Head, hair: Hair, skin: Floats, rng: np.random.Generator) -> Scene:
    """The head, its hair and what it wears."""
    meshes = [_skin_mesh(head, hair, skin, rng), things.clothes(head, skin, rng)]
    strokes = [grow_brows(head, hair.colour, rng)]
    panes: list[Mesh] = []
    dark = 0.0
    if hair.strokes is not None:
        strokes.append(hair.strokes)
    beard = grow_beard(head, hair.colour, rng)
    if beard is not None:
        strokes.append(beard)
    if rng.random() < 0.25:
        frame, panes, dark = things.glasses(head, rng)
        strokes += frame
    if rng.random() < 0.15:
        worn, press = things.hat(rng)
        meshes += worn
        if hair.strokes is not None:
            strokes[1] = dataclasses.replace(hair.strokes, points_mm=press(hair.strokes.points_mm))
    if rng.random() < 0.08:
        meshes += things.mask(head, rng)
        strokes += things.mask_loops(head, rng)
    if rng.random() < 0.1:
        strokes.append(things.hand(skin, rng))
    return Scene(meshes=meshes, strokes=strokes, panes=panes, dark=dark)


def _skin_mesh(head: Head, hair: Hair, skin: Floats, rng: np.random.Generator) -> Mesh:
    names = [Region(r).name for r in range(max(Region) + 1)]
    region = head.region_of_triangle
    is_scalp = hair.grows
    is_eye = _named(names, region, ("WHITE", "IRIS"))
    label = np.full(len(region), Part.SKIN, np.uint8)
    label[_named(names, region, ("EAR",))] = Part.EAR
    if hair.cover > 0.3:
        label[is_scalp] = Part.HAIR
    kind = np.where(is_eye | (is_scalp & (hair.cover > 0.3)), SURFACE, SKIN).astype(np.uint8)
    colours = _skin_colours(head, hair, skin, names, rng)
    shine = np.exp(rng.uniform(np.log(0.01), np.log(0.12))) * max(tone_of(skin), 0.3)
    return Mesh(
        points_mm=head.vertices_mm,
        triangles=head.triangles,
        colours=colours,
        label=label,
        kind=kind,
        gloss=np.where(is_eye, 0.7, np.where(is_scalp & (hair.cover > 0.3), 0.02, shine)).astype(
            np.float32
        ),
    )


def tone_of(colour: Floats) -> float:
    """How light a colour is: its mean."""
    return float(np.mean(colour))


def _named(names: Sequence[str], region: Bytes, starts: tuple[str, ...]) -> NDArray[np.bool_]:
    chosen = np.array([name.startswith(starts) for name in names])
    return np.asarray(chosen[region])


def _skin_colours(
    head: Head, hair: Hair, skin: Floats, names: Sequence[str], rng: np.random.Generator
) -> Floats:
    """A colour (V, 3) for each vertex, blotched, with lips, eyes and hair painted."""
    vertices, triangles = head.vertices_mm, head.triangles
    region = head.region_of_triangle
    colours = np.tile(skin, (len(vertices), 1))
    blotches = sum(
        amount * np.sin(vertices @ rng.normal(size=(3, 3)) / size + rng.uniform(0, 6.3, 3))
        for size, amount in ((30, 0.07), (12, 0.05), (5, 0.05), (2.0, 0.05))
    )
    colours *= 1.0 + rng.uniform(0.2, 1.4) * np.asarray(blotches)
    red = np.array([1.06, 0.9, 0.9]) ** rng.uniform(0, 2)
    flush = _named(names, region, ("EAR", "CHEEK", "NOSE_TIP", "NOSE_WING"))
    colours[np.unique(triangles[flush])] *= red
    lip = np.array([rng.uniform(0.6, 1.0), rng.uniform(0.3, 0.75), rng.uniform(0.3, 0.8)])
    iris, white = rng.uniform(0.01, 0.2, 3), rng.uniform(0.2, 0.6) * np.array([1.0, 0.95, 0.92])
    painted = (
        (("LIP_",), skin * lip),
        (("NOSTRIL", "SOCKET"), skin * 0.12),
        (("WHITE",), white),
        (("IRIS",), iris),
        (("BROW",), skin * (1 - (a := rng.uniform(0, 0.8))) + hair.colour * a),
        (("LID_UPPER",), skin * rng.uniform(0.6, 1.0)),
    )
    for starts, colour in painted:
        own = np.unique(triangles[_named(names, region, starts)])
        colours[own] = colour * (1.0 + 0.5 * np.asarray(blotches)[own])
    scalp = np.unique(triangles[hair.grows])
    under = hair.cover * (0.9 if hair.strokes is not None else 1.0)
    colours[scalp] = colours[scalp] * (1.0 - under) + hair.colour * under
    stubble = np.unique(triangles[_named(names, region, ("CHIN", "JAW", "UPPER_LIP", "UNDER_JAW"))])
    amount = rng.choice([0.0, 0.25], p=[0.75, 0.25]) * rng.random()
    colours[stubble] = colours[stubble] * (1 - amount) + hair.colour * amount
    return np.clip(colours, 0.003, 0.95).astype(np.float32)


def _view(head: Head, rotation: Floats, place: Floats, rng: np.random.Generator) -> View:
    """The crop as the reader would lay it, a little off as landmarks are."""
    points = landmarks_on(head) @ rotation.T + place
    picture = points[:, :2] / -points[:, 2:] * [1000.0, -1000.0]
    mm = 1000.0 / -place[2]
    crop = crop_on(picture + rng.normal(0, 2.0 * mm, 2) + rng.normal(0, 1.5 * mm, picture.shape))
    turn, size = rng.normal(0, np.radians(4.0)), np.exp(rng.normal(0, 0.06))
    spin = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]]) * size
    to_crop = np.linalg.inv(crop.axes_px) @ spin * FINE  # row vectors
    middle = FINE * CROP_PX / 2 + rng.normal(0, 3.0 * FINE, 2)
    eyes = crop.to_picture(np.array([[CROP_PX / 2, CROP_PX / 2]]))[0]
    axes = 1000.0 * to_crop.T
    return View(axes=axes.astype(np.float32), origin=(middle - eyes @ to_crop).astype(np.float32))


def posed_scene(scene: Scene, rotation: Floats, place: Floats) -> Scene:
    """The scene before the camera."""

    def moved(points: Floats) -> Floats:
        return (points @ rotation.T + place).astype(np.float32)

    def mesh(each: Mesh) -> Mesh:
        return Mesh(
            points_mm=moved(each.points_mm), triangles=each.triangles, colours=each.colours,
            label=each.label, kind=each.kind, gloss=each.gloss, two_sided=each.two_sided,
        )  # fmt: skip

    strokes = [
        Strokes(
            points_mm=moved(each.points_mm), radius_mm=each.radius_mm, colours=each.colours,
            label=each.label, is_hair=each.is_hair, gloss=each.gloss,
        )
        for each in scene.strokes
    ]  # fmt: skip
    return Scene(
        meshes=[mesh(m) for m in scene.meshes],
        strokes=strokes,
        panes=[mesh(m) for m in scene.panes],
        dark=scene.dark,
    )


def lights_about(rng: np.random.Generator) -> Floats:
    """Directions and colours (L, 6) of a key and none to two more lights."""
    warm = np.exp(rng.normal(0, 0.12, 3))
    lights = [np.r_[direction_from_angles(rng.uniform(-95, 95), rng.uniform(-10, 70)),
                    rng.uniform(0.3, 1.2) * warm]]  # fmt: skip
    for _ in range(rng.integers(0, 3)):
        way = direction_from_angles(rng.uniform(-170, 170), rng.uniform(-30, 60))
        lights.append(np.r_[way, rng.uniform(0.05, 0.6) * np.exp(rng.normal(0, 0.2, 3))])
    return np.array(lights, np.float32)


def rays_of(canvas: Canvas, view: View) -> Floats:
    """x / depth and y / depth (H, W, 2) of each pixel."""
    high, wide = canvas.near.shape
    grid = np.stack(np.meshgrid(np.arange(wide) + 0.5, np.arange(high) + 0.5), -1) - view.origin
    return (grid @ np.linalg.inv(view.axes).T * [1.0, -1.0]).astype(np.float32)


def lit(
    canvas: Canvas,
    view: View,
    scene: Scene,
    place: Floats,
    lights: Floats,
    rng: np.random.Generator,
) -> Floats:
    """Linear light (H, W, 3) under lights, sky and ground."""
    rays = rays_of(canvas, view)
    shadow, to_shadow = _shadow(scene, np.asarray(lights[0][:3]), place)
    openness = _open_sky(canvas.near)
    sky = rng.uniform(0.1, 0.6) * np.exp(rng.normal(0, 0.1, 3))
    out = np.zeros_like(canvas.colour)
    light_pixels(
        canvas.near, canvas.kind, canvas.colour, canvas.normal, canvas.gloss, rays, openness,
        lights, sky.astype(np.float32),
        (sky * rng.uniform(0.2, 0.9)).astype(np.float32), shadow, to_shadow.astype(np.float32),
        float(rng.uniform(0.3, 7.0)), 4.0, 5, out,
    )  # fmt: skip
    return out


def _shadow(scene: Scene, way: Floats, place: Floats) -> tuple[Floats, Floats]:
    """What lies nearest to the key over a grid 560 mm wide, and the way (3, 4) onto it."""
    across = np.cross([0.0, 1.0, 0.0], way)
    across /= np.linalg.norm(across)
    axes = np.stack([across, np.cross(way, across), way])
    scale = SHADOW_PX / 560.0
    axes[:2] *= scale
    middle = np.r_[np.full(2, SHADOW_PX / 2), 0.0] - np.r_[(axes @ place)[:2], 0.0]
    shadow = np.full((SHADOW_PX, SHADOW_PX), -1e9, np.float32)
    for mesh in scene.meshes:
        points = (mesh.points_mm @ axes.T + middle).astype(np.float32)
        cast_depth(points, mesh.triangles, shadow)
    for strokes in scene.strokes:
        points = (strokes.points_mm.reshape(-1, 3) @ axes.T + middle).astype(np.float32)
        radius = round(float(np.median(strokes.radius_mm)) * scale)
        cast_spots(points, min(radius, 8), shadow)
    return shadow, np.hstack([axes, middle[:, None]])


def _open_sky(near: Floats) -> Floats:
    """A guess at how open each pixel lies: darker where its surroundings stand before it."""
    depth = np.where(near > 0, 1.0 / np.maximum(near, 1e-6), np.nan)
    far = float(np.nanmedian(depth)) + 200.0 if np.isfinite(depth).any() else 1000.0
    depth = np.nan_to_num(depth, nan=far).astype(np.float32)
    shade = np.ones_like(depth)
    for size_px, reach_mm in ((5, 5.0), (15, 18.0)):
        before = depth - cv2.GaussianBlur(depth, (0, 0), size_px / 2)
        shade *= 1.0 - 0.45 * np.clip(before / reach_mm, 0.0, 1.0)
    return shade.astype(np.float32)


def glaze(
    canvas: Canvas, linear: Floats, view: View, scene: Scene, rng: np.random.Generator
) -> None:
    """Lay panes over what lies behind them: their own dark and a reflection."""
    for pane in scene.panes:
        over = Canvas.empty(*canvas.near.shape)
        draw_mesh(over, view, pane)
        shown = over.near > canvas.near
        linear[shown] *= 1.0 - scene.dark
        if rng.random() < 0.5:
            ramp = np.linspace(0, 1, len(linear)) ** rng.uniform(1, 4) * rng.uniform(0, 0.6)
            glow = np.roll(ramp, int(rng.integers(len(ramp))))[:, None, None]
            linear += np.where(shown[..., None], glow * rng.uniform(0.3, 1.0, 3), 0.0)
        if scene.dark > 0.4:
            canvas.label[shown] = Part.GLASSES
