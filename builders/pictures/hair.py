"""Invented hair and beards: strokes that grow from the skin, combed, curled and pulled down."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from builders.pictures.canvas import Strokes
from sitwell.face.parts import Part
from sitwell.head.regions import Region
from sitwell.head.surface import Head

Floats = NDArray[np.float32]
SKULL_MM = np.array([0.0, 22.0, -78.0])
SKULL_RADII_MM = np.array([76.0, 86.0, 98.0])
_DEEP = 0.1  # mean linear reflectance below which skin counts as deep
_BEARD = ("CHIN", "JAW", "UNDER_JAW", "UPPER_LIP_SKIN")
# style, how often, and length in mm from .. to
STYLES = (
    ("bald", 0.08, (0.0, 0.0)),
    ("painted", 0.07, (0.0, 0.0)),
    ("cropped", 0.12, (2.0, 7.0)),
    ("short", 0.23, (15.0, 60.0)),
    ("medium", 0.17, (60.0, 150.0)),
    ("long", 0.18, (150.0, 380.0)),
    ("curly", 0.09, (50.0, 160.0)),
    ("tied", 0.06, (150.0, 230.0)),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hair:
    """A head of hair: ``style`` by name, its ``colour`` (3,), the ``cover`` of the skin under it
    from 0 to 1, the triangles that it ``grows`` on, and its strokes in the head frame, None where
    there are none.
    """

    style: str
    colour: Floats
    cover: float
    grows: NDArray[np.bool_]
    strokes: Strokes | None


def grow_hair(
    head: Head,
    rng: np.random.Generator,
    grows: NDArray[np.bool_] | None = None,
    tone: float = 1.0,
) -> Hair:
    """Hair of a style, colour and fall drawn at random, maybe on given triangles (T,)."""
    odds = np.array([odds for _, odds, _ in STYLES])
    style, _, span = STYLES[int(rng.choice(len(STYLES), p=odds / odds.sum()))]
    colour = hair_colour(rng, tone)
    grows = _grows_hair(head, rng) if grows is None else grows
    if style in ("bald", "painted"):
        covered = float(style != "bald")
        return Hair(style=style, colour=colour, cover=covered, grows=grows, strokes=None)
    cover = rng.uniform(0.35, 0.95) if style == "cropped" else rng.uniform(0.75, 1.0)
    if style == "cropped" and rng.random() < 0.5:
        return Hair(style=style, colour=colour, cover=float(cover), grows=grows, strokes=None)
    thick_mm = np.exp(rng.uniform(np.log(0.35), np.log(2.2)))
    count = int(rng.uniform(2000, 3000) / thick_mm**0.6)
    roots, normals = rooted(head, grows, count, rng)
    length = rng.uniform(*span) * np.exp(rng.normal(0.0, 0.12, count))
    points = _grown(head, roots, normals, length, style, rng)
    radius = thick_mm * np.linspace(1.0, 0.4, points.shape[1])
    strokes = Strokes(
        points_mm=points.astype(np.float32),
        radius_mm=np.broadcast_to(radius, points.shape[:2]).astype(np.float32),
        colours=varied(colour, count, rng),
        label=Part.HAIR,
        is_hair=True,
        gloss=float(rng.uniform(0.0, 0.25)),
    )
    return Hair(style=style, colour=colour, cover=float(cover), grows=grows, strokes=strokes)


@dataclass(frozen=True, slots=True, kw_only=True)
class Beard:
    """A beard's strokes, the triangles (T,) that it grows on and how much of them it covers; a
    moustache is ``on_lip_only``.
    """

    strokes: Strokes
    grows: NDArray[np.bool_]
    cover: float
    on_lip_only: bool


def grow_beard(head: Head, colour: Floats, rng: np.random.Generator) -> Beard | None:
    """A moustache, a short beard or a full one, sparse to dense; None for most."""
    kind = str(rng.choice(["none", "moustache", "short", "full"], p=[0.52, 0.09, 0.23, 0.16]))
    if kind == "none":
        return None
    names = ("UPPER_LIP_SKIN",) if kind == "moustache" else _BEARD
    chosen = _of_regions(head, names)
    middle = head.vertices_mm[head.triangles].mean(axis=1)
    if kind != "moustache":
        cheek = _of_regions(head, ("CHEEK", "TEMPLE"))
        line = rng.uniform(-80, -38) + rng.uniform(0.0, 0.9) * (-middle[:, 2] - 10.0)
        chosen |= cheek & (middle[:, 1] < line) & (middle[:, 2] > -75)
        shape = rng.random()
        if shape < 0.3:  # a chin beard
            chosen &= np.abs(middle[:, 0]) < rng.uniform(16, 38)
        elif shape < 0.38:  # a chin curtain: no moustache
            chosen &= ~_of_regions(head, ("UPPER_LIP_SKIN",))
    count = int(rng.uniform(1200, 5000)) if kind != "moustache" else int(rng.uniform(250, 700))
    roots, normals = rooted(head, chosen, count, rng)
    longest = {"moustache": 14.0, "short": 10.0, "full": 70.0}[kind]
    length = rng.uniform(0.3, 1.0) * longest * np.exp(rng.normal(0.0, 0.2, count))
    lip = np.isin(
        np.arange(count), np.flatnonzero((roots[:, 1] > -62) & (np.abs(roots[:, 0]) < 30))
    )
    length[lip] = np.minimum(length[lip], rng.uniform(5, 14))
    way = normals * rng.uniform(0.2, 0.7) + [0.0, -1.0, 0.15]
    way[:, 0] += np.sign(roots[:, 0]) * (0.7 if kind == "moustache" else 0.15)
    points = _walked(roots, unit(way), length, 7, 0.15, rng)
    cover = rng.uniform(0.2, 0.95) if kind != "moustache" else rng.uniform(0.1, 0.8)
    return Beard(
        strokes=Strokes(
            points_mm=points.astype(np.float32),
            radius_mm=np.full(points.shape[:2], rng.uniform(0.25, 0.7), np.float32),
            colours=varied(colour * rng.uniform(0.6, 1.4), count, rng),
            label=Part.BEARD,
            is_hair=True,
            gloss=float(rng.uniform(0.0, 0.1)),
        ),
        grows=chosen,
        cover=float(cover),
        on_lip_only=kind == "moustache",
    )


def grow_brows(head: Head, colour: Floats, rng: np.random.Generator) -> Strokes:
    """Brows of thin strokes that count as skin."""
    count = int(rng.uniform(60, 260))
    roots, normals = rooted(head, _of_regions(head, ("BROW",)), count, rng)
    way = normals * 0.3 + np.stack(
        [np.sign(roots[:, 0]), np.full(count, 0.3), -np.ones(count) * 0.2], 1
    )
    points = _walked(roots, unit(way), rng.uniform(5, 9, count), 4, 0.2, rng)
    return Strokes(
        points_mm=points.astype(np.float32),
        radius_mm=np.full(points.shape[:2], 0.3, np.float32),
        colours=varied(colour * 0.8, count, rng),
        label=Part.SKIN,
        is_hair=True,
        gloss=0.02,
    )


def dark_colour(rng: np.random.Generator) -> Floats:
    """Linear colour (3,) of black to dark brown hair."""
    tint = np.array([1.0, rng.uniform(0.7, 1.0), rng.uniform(0.5, 1.0)])
    return (tint * np.exp(rng.uniform(np.log(0.004), np.log(0.04)))).astype(np.float32)


def hair_colour(rng: np.random.Generator, tone: float = 1.0) -> Floats:
    """Linear colour (3,): black to fair, red, grey, white, now and then a dyed one.

    On deep skin (mean ``tone``) more often dark: hardly lighter than the skin that it lies on.
    """
    kind = rng.random()
    if tone < _DEEP and rng.random() < 0.65:
        return dark_colour(rng)
    if kind < 0.4:
        return dark_colour(rng)
    if kind < 0.62:
        colour = np.array([1.0, 0.62, 0.38]) * rng.uniform(0.03, 0.16)
    elif kind < 0.76:
        colour = np.array([1.0, 0.74, 0.44]) * rng.uniform(0.16, 0.55)
    elif kind < 0.82:
        colour = np.array([1.0, 0.38, 0.15]) * rng.uniform(0.1, 0.4)
    elif kind < 0.96:
        colour = np.array([1.0, 0.97, 0.94]) * rng.uniform(0.08, 0.75)
    else:
        colour = rng.uniform(0.02, 0.6, 3)
    return (colour * rng.uniform(0.85, 1.15, 3)).astype(np.float32)


def _grows_hair(head: Head, rng: np.random.Generator) -> NDArray[np.bool_]:
    """Triangles that hair grows on: the scalp, now and then with a receding or uneven line."""
    grows = head.region_of_triangle == Region.SCALP
    middle = head.vertices_mm[head.triangles].mean(axis=1)
    if rng.random() < 0.25:
        bare = np.hypot(np.abs(middle[:, 0]) - rng.uniform(0, 40), middle[:, 1] - 75.0)
        front = (bare < rng.uniform(15, 45)) & (middle[:, 2] > -50)
        grows = grows & ~front
    if rng.random() < 0.08:  # thin on top
        grows = grows & ~(np.hypot(middle[:, 0], middle[:, 2] + 70) < rng.uniform(30, 75))
    return grows if grows.sum() > 100 else head.region_of_triangle == Region.SCALP


def rooted(
    head: Head, chosen: NDArray[np.bool_], count: int, rng: np.random.Generator
) -> tuple[Floats, Floats]:
    """Places and normals (N, 3) spread evenly over the chosen triangles."""
    corners = head.vertices_mm[head.triangles[chosen]]
    faces = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    areas = np.linalg.norm(faces, axis=1)
    picked = rng.choice(len(areas), count, p=areas / areas.sum())
    weights = rng.dirichlet((1.0, 1.0, 1.0), count)
    return np.einsum("nc,nca->na", weights, corners[picked]), unit(faces[picked])


def _of_regions(head: Head, starts: tuple[str, ...]) -> NDArray[np.bool_]:
    wanted = [region for region in Region if region.name.startswith(starts)]
    return np.isin(head.region_of_triangle, wanted)


def _grown(
    head: Head, roots: Floats, normals: Floats, length: Floats, style: str, rng: np.random.Generator
) -> Floats:
    """Strokes (N, P, 3) that follow a combing, fall, curl, and stay outside of the skull."""
    count, steps = len(roots), 10 if style in ("cropped", "short") else 22
    comb = _combed(roots, normals, style, rng)
    waves = smooth_noise(roots, rng.uniform(15, 50), rng)
    stray = rng.choice([0.02, 0.06, 0.12])
    way = unit(comb + rng.uniform(0.05, 0.5) * waves + rng.normal(0, stray, (count, 3)))
    weight = {"cropped": 0.0, "short": 0.1, "curly": 0.03}.get(style, rng.uniform(0.12, 0.45))
    fall = np.array([0.0, -1.0, 0.0]) * weight
    layer = np.abs(rng.normal(0.0, 1.0, count)) * rng.uniform(1.0, 12.0) + 1.5
    tucked = style in ("medium", "long") and rng.random() < 0.35
    back = style == "tied"
    points, here = [roots], roots.copy()
    for _ in range(steps):
        way = way + fall + rng.normal(0, 0.5 * stray, (count, 3))
        if tucked or back:
            _push_behind_ears(way, here, 0.9 if back else 0.6)
        if style in ("medium", "long"):
            _push_off_face(way, here)
        way = unit(way)
        here = outside(here + way * (length / steps)[:, None], layer)
        points.append(here)
    strokes = _gathered(np.stack(points, axis=1), rng)
    return _curled(strokes, style, length, rng)


def _combed(roots: Floats, normals: Floats, style: str, rng: np.random.Generator) -> Floats:
    parting = rng.normal(0.0, 22.0)
    aside = np.sign(roots[:, 0] - parting)[:, None] * np.array([1.0, 0.0, 0.0])
    if style in ("tied",) or (style in ("short", "medium") and rng.random() < 0.35):
        comb = np.array([0.0, 0.1, -1.0]) + 0.1 * aside
    elif style != "curly" and rng.random() < 0.35:  # a fringe
        front = (roots[:, 2:] > -45) & (np.abs(roots[:, :1]) < rng.uniform(35, 75))
        comb = np.where(front, [rng.normal(0, 0.6), -0.7, 0.8], 0.6 * aside + [0, -0.8, -0.2])
    else:
        comb = aside * rng.uniform(0.4, 1.2) + [0.0, rng.uniform(-0.5, 0.3), rng.uniform(-0.8, 0.1)]
    lift = 1.0 if style in ("curly", "cropped") else rng.uniform(0.05, 0.6)
    if style == "curly":
        comb = comb * 0.25
    along = comb - np.sum(comb * normals, axis=1, keepdims=True) * normals
    return along + lift * normals


def _push_behind_ears(way: Floats, here: Floats, strength: float) -> None:
    beside = (np.abs(here[:, 0]) > 52) & (here[:, 1] < 45) & (here[:, 2] > -118)
    way[beside, 2] -= strength
    way[beside, 1] -= 0.1


def _push_off_face(way: Floats, here: Floats) -> None:
    """Long hair that comes down before the cheeks slides outward."""
    before = (here[:, 2] > -40) & (here[:, 1] < 20) & (np.abs(here[:, 0]) < 70)
    way[before, 0] += 0.35 * np.sign(here[before, 0])


def outside(points: Floats, layer: Floats) -> Floats:
    """Points pushed out of the skull's ellipsoid with a layer of hair on it, above the jaw."""
    off = (points - SKULL_MM) / (SKULL_RADII_MM + layer[:, None])
    far = np.linalg.norm(off, axis=1, keepdims=True)
    inside = (far < 1.0) & (points[:, 1:2] > -75.0)
    pushed = SKULL_MM + off / np.maximum(far, 1e-3) * (SKULL_RADII_MM + layer[:, None])
    return np.where(inside, pushed, points)


def _gathered(strokes: Floats, rng: np.random.Generator) -> Floats:
    """Strokes drawn toward the nearest of some that lead, more so toward the tips: locks."""
    leads = rng.choice(len(strokes), int(rng.uniform(60, 300)), replace=False)
    own = cKDTree(strokes[leads, 0]).query(strokes[:, 0])[1]
    pull = rng.uniform(0.0, 0.8) * np.linspace(0.0, 1.0, strokes.shape[1])[None, :, None]
    return strokes * (1.0 - pull) + strokes[leads[own]] * pull


def _curled(strokes: Floats, style: str, length: Floats, rng: np.random.Generator) -> Floats:
    if style == "curly":
        size, wave = rng.uniform(3.0, 9.0), rng.uniform(9.0, 26.0)
    elif rng.random() < 0.5:
        size, wave = rng.uniform(0.5, 7.0), rng.uniform(25.0, 110.0)
    else:
        return strokes
    share = np.linspace(0.0, 1.0, strokes.shape[1])[None, :]
    clump = smooth_noise(strokes[:, 0], rng.uniform(8, 25), rng)
    angle = 6.283 * share * length[:, None] / wave + 3.0 * clump[:, :1]
    grown = np.minimum(share * 4.0, 1.0) * size
    turn = np.stack([np.sin(angle), 0.4 * np.sin(angle + 1.0), np.cos(angle)], axis=-1)
    return strokes + turn * grown[..., None]


def _walked(
    roots: Floats, way: Floats, length: Floats, steps: int, fall: float, rng: np.random.Generator
) -> Floats:
    points, here = [roots], roots
    for _ in range(steps):
        way = unit(way + np.array([0.0, -fall, 0.0]) + rng.normal(0, 0.15, way.shape))
        here = here + way * (length / steps)[:, None]
        points.append(here)
    return np.stack(points, axis=1)


def smooth_noise(points: Floats, size_mm: float, rng: np.random.Generator) -> Floats:
    """A vector (N, 3) that changes slowly with the place, about one in size."""
    total = np.zeros_like(points, dtype=float)
    for _ in range(4):
        total += np.sin(points @ rng.normal(0, 1 / size_mm, (3, 3)) + rng.uniform(0, 6.283, 3))
    return (total / 2.0).astype(np.float32)


def varied(
    colour: Floats, count: int, rng: np.random.Generator, uneven: float | None = None
) -> Floats:
    """Colours (N, 3), lighter and darker, by ``uneven`` or by chance."""
    spread = rng.uniform(0.04, 0.4) if uneven is None else uneven
    tones = np.exp(rng.normal(0.0, spread, (count, 1)))
    return np.clip(colour * tones, 0.002, 0.95).astype(np.float32)


def unit(vectors: Floats) -> Floats:
    """Vectors (..., 3) of length one."""
    return vectors / np.maximum(np.linalg.norm(vectors, axis=-1, keepdims=True), 1e-9)
