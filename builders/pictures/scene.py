"""An invented head with its skin, hair and what it wears, ready to be posed and drawn."""

import dataclasses
import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from builders.families.second_heads import drawn_head, family
from builders.pictures import things
from builders.pictures.canvas import (
    SKIN,
    SURFACE,
    Mesh,
    Strokes,
    plain_mesh,
)
from builders.pictures.hair import Beard, Hair, grow_beard, grow_brows
from builders.pictures.pulls import pulled_face
from sitwell.face.parts import Part
from sitwell.head.prior import drawn_sigma
from sitwell.head.regions import Region
from sitwell.head.surface import Head, head_from_values
from sitwell.head.template import load_template

Floats = NDArray[np.float32]
Bytes = NDArray[np.uint8]


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """Everything in front of the lens, in the head frame until posed; a ``moustache`` has no beard
    beside it.
    """

    meshes: list[Mesh]
    strokes: list[Strokes]
    panes: list[Mesh]
    dark: float
    moustache: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """Files that pictures are made with: the second family's heads, and surroundings."""

    heads: Path | None = None
    places: Path | None = None

    @classmethod
    def from_environment(cls) -> "Given":
        """By the variables FACE_HEADS and FACE_PLACES; what is not named is gone without."""
        heads, around = os.environ.get("FACE_HEADS"), os.environ.get("FACE_PLACES")
        return cls(heads=Path(heads) if heads else None, places=Path(around) if around else None)


def skin_colour(rng: np.random.Generator) -> Floats:
    """Linear colour (3,) of skin by its pigments, melanin and blood, deep and light alike often.

    Each pigment takes its share of each colour (rough fits to published absorptions, from memory).
    """
    melanin = rng.choice([rng.uniform(0.2, 1.2), rng.uniform(0.9, 2.4), rng.uniform(2.0, 4.6)])
    blood = rng.uniform(0.0, 1.3)
    base = np.array([0.85, 0.70, 0.58])
    taken = melanin * np.array([0.60, 0.70, 0.76]) * rng.uniform(0.95, 1.05, 3)
    return np.clip(base * np.exp(-taken - blood * np.array([0.02, 0.25, 0.2])), 0.012, 0.85)


def made_head(
    rng: np.random.Generator, given: Given, *, second: bool
) -> tuple[Head, tuple[Floats, NDArray[np.int32]] | None]:
    """A head with an expression, widely varied and kneaded, and its teeth where there are any."""
    hairline_mm = float(np.clip(rng.normal(4, 14), -20, 40))
    if second:
        assert given.heads is not None
        head, points = drawn_head(given.heads, hairline_mm, rng)
        teeth = points, family(given.heads)[0].teeth_triangles
    else:
        template = load_template()
        shape = rng.normal(size=len(drawn_sigma())) * drawn_sigma() * rng.uniform(0.8, 1.4)
        ears = np.array([name.startswith("ear") for name in template.shape_names])
        shape[ears] *= rng.uniform(0.8, 1.7)
        expression = pulled_face(rng, template.expression_names)
        head = head_from_values(
            template, shape.astype(np.float32), expression.astype(np.float32), hairline_mm
        )
        teeth = _teeth_in(head, expression, given)
    kneaded = dataclasses.replace(head, vertices_mm=_kneaded(head.vertices_mm, rng))
    return kneaded, teeth


def _teeth_in(
    head: Head, expression: Floats, given: Given
) -> tuple[Floats, NDArray[np.int32]] | None:
    """The second family's teeth in a mouth of ours, the lower ones with the jaw."""
    if given.heads is None:
        return None
    other, template = family(given.heads)[0], load_template()
    triangle, weights = head.point_anchors["upper_lip_top"]
    there = weights @ other.mean_mm[head.triangles[triangle]]
    points = other.teeth_mm + np.asarray(head.point("upper_lip_top")) - there
    triangle, weights = head.point_anchors["chin"]
    moved = np.tensordot(expression, template.expression_mm[:, head.triangles[triangle]], 1)
    low = other.teeth_mm[:, 1] < np.median(other.teeth_mm[:, 1])
    points[low] += weights @ moved
    return points.astype(np.float32), other.teeth_triangles


def _kneaded(vertices: Floats, rng: np.random.Generator) -> Floats:
    """A surface pushed about by a millimetre or two, so that nothing is learned too exactly."""
    moved = vertices.astype(np.float64)
    for size_mm, amount_mm in ((45.0, 1.6), (14.0, 0.5)):
        wave = np.sin(vertices @ rng.normal(0, 1 / size_mm, (3, 3)) + rng.uniform(0, 6.3, 3))
        moved += wave * amount_mm * rng.random()
    return moved.astype(np.float32)


def dressed(
    head: Head,
    hair: Hair,
    skin: Floats,
    teeth: tuple[Floats, NDArray[np.int32]] | None,
    rng: np.random.Generator,
) -> Scene:
    """The head, its hair and what it wears."""
    beard = grow_beard(head, hair.colour * np.exp(rng.normal(0, 0.3)), rng)
    meshes = [_skin_mesh(head, hair, beard, skin, rng), things.clothes(head, skin, rng)]
    if teeth is not None:
        white = rng.uniform(0.35, 0.8) * np.array([1.0, 0.95, 0.85])
        meshes.append(plain_mesh(*teeth, white, Part.SKIN, gloss=0.3))
    strokes = [grow_brows(head, hair.colour, rng)]
    panes: list[Mesh] = []
    dark = 0.0
    if hair.strokes is not None:
        strokes.append(hair.strokes)
    if beard is not None:
        strokes.append(beard.strokes)
    if rng.random() < 0.27:
        frame, panes, dark = things.glasses(head, rng)
        strokes += frame
    if rng.random() < 0.25:
        worn, press = things.hat(rng)
        meshes += worn
        if hair.strokes is not None:
            strokes[1] = dataclasses.replace(hair.strokes, points_mm=press(hair.strokes.points_mm))
    if rng.random() < 0.05:
        meshes += things.mask(head, rng)
        strokes += things.mask_loops(head, rng)
    if rng.random() < 0.1:
        strokes.append(things.hand(skin, rng))
    if rng.random() < 0.04:
        strokes.append(things.before_the_face(rng))
    strokes += things.trinkets(head, rng)
    moustache = beard is not None and beard.on_lip_only
    return Scene(meshes=meshes, strokes=strokes, panes=panes, dark=dark, moustache=moustache)


def _skin_mesh(
    head: Head, hair: Hair, beard: Beard | None, skin: Floats, rng: np.random.Generator
) -> Mesh:
    names = [Region(r).name for r in range(max(Region) + 1)]
    region = head.region_of_triangle
    is_scalp = hair.grows
    is_eye = _named(names, region, ("WHITE", "IRIS"))
    label = np.full(len(region), Part.SKIN, np.uint8)
    label[_named(names, region, ("EAR",))] = Part.EAR
    if hair.cover > 0.3:
        label[is_scalp] = Part.HAIR
    dense = beard is not None and beard.cover > 0.5
    if beard is not None and dense:
        label[beard.grows & (label == Part.SKIN)] = Part.BEARD
    kind = np.where(is_eye | (is_scalp & (hair.cover > 0.3)), SURFACE, SKIN).astype(np.uint8)
    colours = _skin_colours(head, hair, beard, skin, names, rng)
    shine = np.exp(rng.uniform(np.log(0.01), np.log(0.16))) * max(tone_of(skin), 0.3)
    return Mesh(
        points_mm=head.vertices_mm,
        triangles=head.triangles,
        colours=colours,
        label=label,
        kind=kind,
        gloss=np.where(is_eye, 0.2, np.where(is_scalp & (hair.cover > 0.3), 0.02, shine)).astype(
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
    head: Head, hair: Hair, beard: Beard | None, skin: Floats, names: Sequence[str],
    rng: np.random.Generator,
) -> Floats:  # fmt: skip
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
    iris, white = rng.uniform(0.01, 0.2, 3), rng.uniform(0.12, 0.45) * np.array([1.0, 0.95, 0.92])
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
    under = np.full(len(scalp), hair.cover * (0.9 if hair.strokes is not None else 1.0))
    if hair.style in ("cropped", "painted", "coils", "plain") and rng.random() < 0.4:  # a fade
        start, soft = rng.uniform(-20, 60), rng.uniform(15, 50)
        under = under * np.clip((vertices[scalp, 1] - start) / soft, rng.uniform(0, 0.6), 1.0)
    colours[scalp] = colours[scalp] * (1.0 - under[:, None]) + hair.colour * under[:, None]
    if beard is not None:
        own, tone = np.unique(triangles[beard.grows]), beard.strokes.colours.mean(axis=0)
        colours[own] = colours[own] * (1.0 - 0.9 * beard.cover) + tone * 0.9 * beard.cover
    stubble = np.unique(triangles[_named(names, region, ("CHIN", "JAW", "UPPER_LIP", "UNDER_JAW"))])
    amount = rng.choice([0.0, 0.45], p=[0.65, 0.35]) * rng.random()
    colours[stubble] = colours[stubble] * (1 - amount) + hair.colour * amount
    return np.clip(colours, 0.003, 0.95).astype(np.float32)


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
        moustache=scene.moustache,
    )
