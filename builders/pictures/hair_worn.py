"""More ways that hair is worn, for a net that has to tell where it grows.

The line where hair begins is bent, receded and thinned at random, and the true line up the middle
is kept: combed, plaited or tied hair often doesn't begin, in the picture, where it grows.
"""

import dataclasses
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from builders.pictures import hair as plain
from builders.pictures.canvas import Strokes
from builders.pictures.hair import Hair
from sitwell.face.parts import Part
from sitwell.head.regions import Region
from sitwell.head.surface import Head
from sitwell.head.template import load_template

Floats = NDArray[np.float32]
# What is worn, how often, and length in mm from .. to; the first stands for all of face_hair.
WORN = (
    ("plain", 0.24, (0.0, 0.0)),
    ("swept", 0.13, (40.0, 170.0)),  # back or aside from a parting, close or full
    ("sleek", 0.09, (60.0, 220.0)),  # fine, even hair combed close: a surface rather than strands
    ("full", 0.17, (90.0, 400.0)),  # the same standing off the head: smooth as cloth
    ("bun", 0.08, (110.0, 230.0)),
    ("coils", 0.12, (6.0, 45.0)),  # curls close to the head
    ("afro", 0.05, (45.0, 130.0)),
    ("locs", 0.07, (90.0, 330.0)),  # thick ropes that hang
    ("braids", 0.04, (120.0, 360.0)),  # thin plaits that hang or are tied back
    ("rows", 0.05, (120.0, 260.0)),  # plaits along the skull
    ("fine", 0.04, (20.0, 90.0)),  # thin hair that skin shows through
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Grown:
    """Hair and where its line truly lies up the middle: mm above the mean one, nan where bald."""

    hair: Hair
    line_mm: float


def grow(head: Head, rng: np.random.Generator, tone: float) -> Grown:
    """Hair worn in some way on a line of its own; ``tone`` is the skin's mean reflectance."""
    odds = np.array([odds for _, odds, _ in WORN])
    worn, _, span = WORN[int(rng.choice(len(WORN), p=odds / odds.sum()))]
    grows = _line(head, rng)
    if worn == "plain":
        hair = _regrown(head, plain.grow_hair(head, rng, grows, tone))
    else:
        hair = _worn(head, worn, span, grows, rng, tone)
    return Grown(hair=hair, line_mm=float("nan") if hair.cover < 0.1 else _middle(head, grows))


def _regrown(head: Head, hair: Hair) -> Hair:
    return dataclasses.replace(hair, strokes=_softened(head, hair))


def _line(head: Head, rng: np.random.Generator) -> NDArray[np.bool_]:
    """Triangles (T,) that hair grows on: above a line with a peak, bays and a ragged edge."""
    template = load_template()
    height = template.hairline_height_mm
    middle = template.vertices_mm[template.triangles].mean(axis=1)
    aside = np.abs(middle[:, 0])
    bays = rng.choice([0.0, 1.0], p=[0.5, 0.5]) * rng.uniform(0, 40)
    bent = bays * np.exp(-(((aside - rng.uniform(25, 45)) / rng.uniform(8, 20)) ** 2))
    bent -= rng.choice([0.0, 1.0], p=[0.7, 0.3]) * rng.uniform(3, 12) * np.exp(-((aside / 9) ** 2))
    bent += rng.uniform(0, 5) * np.sin(middle[:, 0] / rng.uniform(3, 12) + rng.uniform(0, 6.3))
    if rng.random() < 0.1:
        bent += rng.uniform(20, 70) * np.exp(-((aside / rng.uniform(30, 60)) ** 2))
    line = np.where(middle[:, 2] > -60, np.float64(head.hairline_mm) + bent, head.hairline_mm)
    with np.errstate(invalid="ignore"):
        grows = height > line
    if rng.random() < 0.06:  # thin on top
        grows &= ~(np.hypot(middle[:, 0], middle[:, 2] + 80) < rng.uniform(30, 65))
    return grows if grows.sum() > 100 else head.region_of_triangle == Region.SCALP


def _middle(head: Head, grows: NDArray[np.bool_]) -> float:
    """Where hair begins up the middle: the lowest millimetre of the walk that is grown over."""
    walk = load_template().hairline_walk
    over = [step for step in sorted(walk) if grows[walk[step][0]]]
    return float(over[0]) if over else float("nan")


def _worn(
    head: Head,
    worn: str,
    span: tuple[float, float],
    grows: NDArray[np.bool_],
    rng: np.random.Generator,
    tone: float,
) -> Hair:
    dark = worn in ("coils", "afro", "locs", "braids", "rows") and rng.random() < 0.7
    colour = plain.dark_colour(rng) if dark else plain.hair_colour(rng, tone)
    thick_mm = np.exp(rng.uniform(np.log(0.3), np.log(1.6)))
    count = int(rng.uniform(2400, 3400) / thick_mm**0.6)
    even = rng.uniform(0.08, 0.4)
    if worn == "sleek":
        thick_mm, even = rng.uniform(0.35, 0.8), rng.uniform(0.02, 0.12)
        count = int(rng.uniform(3500, 6000))
    if worn == "full":
        thick_mm, even = rng.uniform(0.8, 2.2), rng.uniform(0.01, 0.08)
        count = int(rng.uniform(2600, 4200))
    if worn == "fine":
        count = int(count * rng.uniform(0.25, 0.7))
    if worn in ("locs", "braids"):
        thick_mm = rng.uniform(2.2, 5.0) if worn == "locs" else rng.uniform(1.3, 2.6)
        count = int(rng.uniform(110, 200) * (3.5 / thick_mm))
    roots, normals = plain.rooted(head, grows, count, rng)
    if worn == "rows":
        points, radius, colours = _rows(head, roots, normals, colour, rng)
    else:
        length = rng.uniform(*span) * np.exp(rng.normal(0, 0.1, count))
        build = {
            "swept": _swept, "sleek": _swept, "full": _full, "bun": _bun, "coils": _coils,
            "afro": _coils,
            "fine": _swept, "locs": _hung, "braids": _hung,
        }[worn]  # fmt: skip
        points = build(roots, normals, length, rng)
        taper = np.linspace(1.0, 0.8 if worn in ("locs", "braids") else 0.5, points.shape[1])
        radius = np.broadcast_to(thick_mm * taper, points.shape[:2])
        if worn in ("locs", "braids"):  # beaded as plaits and locs are
            bead = np.sin(np.arange(points.shape[1]) * rng.uniform(0.8, 2.5))
            radius = radius * (1.0 + rng.uniform(0.05, 0.35) * bead)
        colours = plain.varied(colour, count, rng, even)
    cover = rng.uniform(0.15, 0.6) if worn == "fine" else rng.uniform(0.6, 1.0)
    if worn in ("locs", "braids"):
        cover = rng.uniform(0.5, 0.95)
    gloss = float(rng.choice([rng.uniform(0.0, 0.08), rng.uniform(0.0, 0.35)]))
    strokes = Strokes(
        points_mm=points.astype(np.float32), radius_mm=radius.astype(np.float32),
        colours=colours, label=Part.HAIR, is_hair=worn not in ("locs", "braids"), gloss=gloss,
    )  # fmt: skip
    hair = Hair(style=worn, colour=colour, cover=float(cover), grows=grows, strokes=strokes)
    return _regrown(head, hair)


def _hung(roots: Floats, normals: Floats, length: Floats, rng: np.random.Generator) -> Floats:
    """Ropes that lie on the skull for a way and then hang, forward, aside or back."""
    part_mm = rng.normal(0, 30)
    aside = np.sign(roots[:, :1] - part_mm) * [1.0, 0.0, 0.0]
    back = rng.choice([0.0, 0.5, 1.2])
    comb = aside * rng.uniform(0.3, 1.0) + np.array([0.0, 0.0, -back]) + [0, -0.2, 0]
    layer = np.abs(rng.normal(0, 1, len(roots))) * rng.uniform(3, 12) + 3.0
    fall = rng.uniform(0.9, 2.0)
    made = _laid(roots, normals, comb, rng.uniform(0.1, 0.8), layer, length, fall, rng)
    before = (made[..., 2] > -45) & (made[..., 1] < 25) & (np.abs(made[..., 0]) < 66)
    push = np.where(before, 66 - np.abs(made[..., 0]), 0.0) * rng.uniform(0.5, 1.0)
    made[..., 0] += np.sign(made[..., 0]) * push
    return made


def _softened(head: Head, hair: Hair) -> Strokes | None:
    """The strokes with those at the very line thinner, as hair at its line is."""
    if hair.strokes is None:
        return None
    bottom = np.asarray(head.point("hairline"), dtype=float)
    near = np.linalg.norm(hair.strokes.points_mm[:, 0] - bottom, axis=1) < 25.0
    thin = np.where(near, 0.6, 1.0)[:, None].astype(np.float32)
    return dataclasses.replace(hair.strokes, radius_mm=hair.strokes.radius_mm * thin)


def _swept(roots: Floats, normals: Floats, length: Floats, rng: np.random.Generator) -> Floats:
    """Back from the face, or aside from a parting in the middle or at a side."""
    part_mm = rng.choice([0.0, rng.normal(0, 35)])
    aside = np.sign(roots[:, :1] - part_mm) * [1.0, 0.0, 0.0]
    share = rng.choice([0.0, 0.3, 1.0])
    comb = (1 - share) * np.array([0.0, 0.2, -1.0]) + share * (aside + np.array([0, -0.1, -0.4]))
    lift = np.exp(rng.uniform(np.log(0.03), np.log(1.2)))
    layer = np.abs(rng.normal(0, 1, len(roots))) * np.exp(rng.uniform(-1, np.log(16))) + 1.0
    fall = rng.uniform(0.02, 0.3)
    return _laid(roots, normals, comb, lift, layer, length, fall, rng)


def _full(roots: Floats, normals: Floats, length: Floats, rng: np.random.Generator) -> Floats:
    """Back or aside in one smooth body that stands off the skull, then down if it is long."""
    part_mm = rng.choice([0.0, rng.normal(0, 35)])
    aside = np.sign(roots[:, :1] - part_mm) * [1.0, 0.0, 0.0]
    share = rng.choice([0.0, 0.3, 0.8])
    comb = (1 - share) * np.array([0.0, 0.2, -1.0]) + share * (aside + np.array([0, 0.0, -0.5]))
    rise = np.clip((roots[:, 1] - rng.uniform(-40, 40)) / 60.0, rng.uniform(0.1, 0.8), 1.0)
    layer = rng.uniform(4, 42) * rise * (1.0 - rng.uniform(0, 0.25) * rng.random(len(roots)))
    layer = layer * (1.0 + 0.12 * plain.smooth_noise(roots, rng.uniform(25, 60), rng)[:, 0])
    off = (roots - plain.SKULL_MM) / plain.SKULL_RADII_MM
    own = np.linalg.norm(off, axis=1, keepdims=True)  # how far out the skin itself lies
    fall, stray = rng.choice([rng.uniform(0.0, 0.1), rng.uniform(0.2, 0.7)]), rng.uniform(0, 0.04)
    wave, size = rng.uniform(25, 110), rng.choice([0.0, rng.uniform(1, 14)])
    way = np.broadcast_to(comb, roots.shape) + rng.normal(0, stray, roots.shape)
    points, here, gone, steps = [roots], roots.copy(), np.zeros(len(roots)), 18
    rising_mm = rng.uniform(8, 35)
    for _ in range(steps):
        off = (here - plain.SKULL_MM) / plain.SKULL_RADII_MM
        out = plain.unit(off / plain.SKULL_RADII_MM)
        way = way + np.array([0.0, -fall, 0.0])
        on = here[:, 1:2] > -25.0
        along = plain.unit(np.where(on, way - (way * out).sum(1, keepdims=True) * out, way))
        here = here + along * (length / steps)[:, None]
        gone = gone + length / steps
        risen = layer[:, None] * (1.0 - np.exp(-gone / rising_mm))[:, None]
        radii = plain.SKULL_RADII_MM * np.maximum(own, 1.0) + risen
        off = (here - plain.SKULL_MM) / radii
        laid = plain.SKULL_MM + off / np.linalg.norm(off, axis=1, keepdims=True) * radii
        here = np.where(here[:, 1:2] > -25.0, laid, here)
        way = np.where(on, along, along + np.array([0.0, -0.3, 0.0]))
        bent = size * np.sin(gone / wave * 6.3) * (gone > 60)
        points.append(here + bent[:, None] * out)
    made = np.stack(points, axis=1)
    before = (made[..., 2] > -45) & (made[..., 1] < 25) & (np.abs(made[..., 0]) < 60)
    ends = np.where(before.any(axis=1), before.argmax(axis=1) - 1, steps).clip(0)
    last = np.minimum(np.arange(steps + 1), ends[:, None])  # none goes on across the face
    return np.take_along_axis(made, last[..., None], axis=1)


def _bun(roots: Floats, normals: Floats, length: Floats, rng: np.random.Generator) -> Floats:
    """Drawn tightly to one spot and coiled there."""
    spot = np.array([rng.normal(0, 8), rng.uniform(20, 125), rng.uniform(-175, -60)])
    off = (spot - plain.SKULL_MM) / plain.SKULL_RADII_MM
    spot = plain.SKULL_MM + off / np.linalg.norm(off) * (plain.SKULL_RADII_MM + 6.0)
    layer = np.abs(rng.normal(0, 1, len(roots))) * rng.uniform(0.5, 4.0) + 1.0
    steps = 12
    points, here = [roots], roots.copy()
    far = np.linalg.norm(spot - roots, axis=1)
    for step in range(steps):
        way = plain.unit(spot - here) + 0.25 * (1 - step / steps) * normals
        here = plain.outside(here + plain.unit(way) * (far / steps)[:, None], layer)
        points.append(here)
    size = rng.uniform(16, 42)
    spin, tall = rng.uniform(0, 6.28, len(roots)), rng.uniform(-1, 1, len(roots))
    for turn in np.linspace(0, 5.0, 8):
        flat = np.sqrt(1 - tall**2)
        ball = np.stack([flat * np.cos(spin + turn), tall, flat * np.sin(spin + turn)], axis=1)
        points.append(spot + off / np.linalg.norm(off) * size * 0.6 + ball * size)
    return np.stack(points, axis=1)


def _coils(roots: Floats, normals: Floats, length: Floats, rng: np.random.Generator) -> Floats:
    """Tight curls standing off the skull, from a close crop to a full round."""
    share = np.linspace(0.0, 1.0, 16)[None, :, None]
    reach = (length * rng.uniform(0.35, 0.9))[:, None, None]
    stray = rng.normal(0, 0.3, roots.shape)
    straight = roots[:, None] + share * reach * plain.unit(normals + stray)[:, None]
    size = rng.uniform(1.2, 5.0)
    angle = share[..., 0] * rng.uniform(8, 25) + rng.uniform(0, 6.28, (len(roots), 1))
    turn = np.stack([np.cos(angle), np.sin(angle), np.cos(angle + 1.5)], axis=-1)
    return straight + turn * size * np.minimum(share * 6, 1.0)


def _rows(
    head: Head, roots: Floats, normals: Floats, colour: Floats, rng: np.random.Generator
) -> tuple[Floats, Floats, Floats]:
    """Plaits that run back over the skull in rows, skin between them."""
    gap = rng.uniform(9, 20)
    row = np.round(roots[:, 0] / gap + (shift := rng.random())) - shift
    pulled = roots.copy()
    pulled[:, 0] = roots[:, 0] * 0.25 + 0.75 * row * gap
    comb = np.tile([0.0, 0.1, -1.0], (len(roots), 1))
    layer = np.full(len(roots), rng.uniform(1.5, 4.0))
    length = rng.uniform(15, 40, len(roots))
    points = _laid(pulled, normals, comb, 0.08, layer, length, 0.05, rng)
    wave = np.sin(
        points[:, :, 2] / rng.uniform(1.2, 2.5) + (np.arange(len(roots)) % 2)[:, None] * 3
    )
    points[:, :, 0] += 0.25 * gap * wave
    points[:, 0] = roots * 0.3 + pulled * 0.7
    radius = np.full(points.shape[:2], rng.uniform(0.8, 1.6))
    return points, radius, plain.varied(colour, len(roots), rng)


def _laid(
    roots: Floats, normals: Floats, comb: Floats, lift: float, layer: Floats, length: Floats,
    fall: float, rng: np.random.Generator,
) -> Floats:  # fmt: skip
    """Strokes that follow a combing over the skull, then fall."""
    comb = np.broadcast_to(comb, roots.shape)
    along = comb - np.sum(comb * normals, axis=1, keepdims=True) * normals
    waves = plain.smooth_noise(roots, rng.uniform(15, 50), rng)
    stray = rng.choice([0.01, 0.04, 0.1])
    way = plain.unit(along + lift * normals + rng.uniform(0.0, 0.3) * waves)
    points, here, steps = [roots], roots.copy(), 14
    for step in range(steps):
        drop = np.array([0.0, -fall * step / steps, 0.0])
        way = way + drop + rng.normal(0, stray, roots.shape)
        way = plain.unit(way + 0.15 * along)
        here = plain.outside(here + way * (length / steps)[:, None], layer)
        points.append(here)
    return np.stack(points, axis=1)
