"""Invented things over a face: glasses, hats, masks, hands, and clothes. Head frame, mm."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from builders.pictures.canvas import Mesh, Strokes, plain_mesh, vertex_normals
from sitwell.base.rotations import rotation_from_pose
from sitwell.face.parts import Part
from sitwell.head.surface import Head
from sitwell.scene.bust import build_bust

Floats = NDArray[np.float32]
_SKULL_MM = np.array([0.0, 20.0, -76.0])


def any_colour(rng: np.random.Generator) -> Floats:
    """A colour (3,) of cloth, paint or plastic; dark and plain ones more often."""
    grey = np.exp(rng.uniform(np.log(0.008), np.log(0.8)))
    return (grey * np.exp(rng.normal(0, rng.choice([0.05, 0.3, 0.9]), 3))).clip(0.004, 0.9)


def glasses(head: Head, rng: np.random.Generator) -> tuple[list[Strokes], list[Mesh], float]:
    """Frame strokes, panes, and how dark the panes are (0 clear, 1 black)."""
    dark = float(rng.choice([0.0, 0.12, 0.9], p=[0.62, 0.08, 0.3]) * rng.uniform(0.75, 1.1))
    half_wide, half_high = rng.uniform(21, 29), rng.uniform(14, 24)
    power, thick = rng.uniform(0.35, 1.0), np.exp(rng.uniform(np.log(0.4), np.log(3.2)))
    colour = any_colour(rng) * (1.0 if rng.random() < 0.5 else 0.15)
    drop, ahead, wrap = rng.uniform(-7, 3), rng.uniform(13, 22), rng.uniform(0.0, 0.22)
    angles = np.linspace(0, 2 * np.pi, 29)
    c, s = np.cos(angles), np.sin(angles)
    ring = np.stack([np.sign(c) * np.abs(c) ** power * half_wide,
                     np.sign(s) * np.abs(s) ** power * half_high], axis=1)  # fmt: skip
    ring[:, 0] *= 1.0 + 0.12 * ring[:, 1] / half_high
    strokes, panes = [], []
    rimless = rng.choice(["full", "top", "none"], p=[0.75, 0.15, 0.1])
    for sign, side in ((1.0, "own_left"), (-1.0, "own_right")):
        eye = np.asarray(head.eye_centre_mm[side], dtype=float)
        at = eye + np.array([sign * 1.5, drop, 12.0 + ahead])
        flat = np.stack([sign * ring[:, 0], ring[:, 1], -wrap * np.maximum(ring[:, 0], -8)], axis=1)
        rim = at + flat
        shown = rim if rimless == "full" else rim[:15]
        if rimless != "none":
            strokes.append(_stroke(shown, thick, colour))
        outer = rim[np.argmax(sign * rim[:, 0])] + [0, half_high * 0.3, 0]
        top = np.asarray(head.point(f"ear_top_{side}"), dtype=float)
        hook = top + np.array([-sign * 5.0, 1.0, 4.0])
        corner = outer + np.array([sign * 4.0, 0.0, -4.0])
        strokes.append(
            _stroke(np.stack([outer, corner, hook, hook + np.array([0, -18, -16])]), thick, colour)
        )
        pane = np.vstack([at[None], rim])
        fan = np.array([[0, i, i + 1] for i in range(1, len(rim))])
        label = Part.GLASSES if dark > 0.4 else Part.SKIN
        panes.append(plain_mesh(pane, fan, any_colour(rng) * 0.1, label, gloss=0.6))
    own_left, own_right = (
        np.asarray(head.eye_centre_mm[s], float) for s in ("own_left", "own_right")
    )
    inner = [e + np.array([-sg * (half_wide - 1.5), drop + half_high * 0.35, 12.5 + ahead])
             for e, sg in ((own_left, 1.0), (own_right, -1.0))]  # fmt: skip
    middle = (inner[0] + inner[1]) / 2 + [0, 3.0, 3.0]
    strokes.append(_stroke(np.stack([inner[0], middle, inner[1]]), thick, colour))
    return strokes, panes, min(dark, 0.97)


HATS = ("beanie", "cap", "backward", "brim", "hood", "band", "turban", "scarf", "bandana")
_OFTEN = (0.2, 0.14, 0.06, 0.15, 0.13, 0.09, 0.11, 0.07, 0.05)


def hat(rng: np.random.Generator) -> tuple[list[Mesh], Callable[[Floats], Floats]]:
    """Something worn on the head, of any cloth; and how it presses hair."""
    kind = str(rng.choice(HATS, p=_OFTEN))
    colour = any_colour(rng)
    radii = np.array([82.0, 91.0, 106.0]) + rng.uniform(0, 12)
    low, slope = rng.uniform(14, 62), rng.uniform(-0.1, 0.4)
    if rng.random() < (0.4 if kind in ("beanie", "band") else 0.15):  # pushed back
        low, slope = rng.uniform(50, 80), rng.uniform(0.3, 0.75)
    if kind in ("scarf", "bandana", "turban"):
        low = rng.uniform(18, 60)
    across, up = np.meshgrid(np.linspace(0, 2 * np.pi, 181), np.linspace(-1.1, np.pi / 2, 150))
    way = np.stack([np.cos(up) * np.sin(across), np.sin(up), np.cos(up) * np.cos(across)], -1)
    lumps = 1.0 + 0.02 * np.sin(3 * across + rng.uniform(0, 6)) * np.cos(2 * up)
    fold = _folds(across, up, kind, rng)
    tall = rng.uniform(1.0, 1.4) if kind in ("brim", "beanie", "turban") else rng.uniform(1, 1.08)
    if kind == "turban":
        lumps = lumps * (1.0 + rng.uniform(0.02, 0.2) * np.exp(-(((up - 0.5) / 0.5) ** 2)))
    shell = way * radii * (lumps + fold)[..., None] * [1, tall, 1] + _SKULL_MM
    if kind in ("brim", "cap") and rng.random() < 0.6:  # a crown with a flat or dented top
        top = rng.uniform(108, 135)
        high = shell[..., 1] > top
        shell[..., 1] = np.where(
            high, top + (shell[..., 1] - top) * rng.uniform(0, 0.4), shell[..., 1]
        )
        dent = rng.uniform(0, 16) * np.exp(-((shell[..., 0] / 18) ** 2))
        shell[..., 1] -= np.where(high, dent, 0.0)
    edge = low + slope * (shell[..., 2] + 20.0)
    keep = shell[..., 1] > edge
    meshes = []
    pattern = _patterned(shell, colour, rng) * (1.0 + 6.0 * fold[..., None]).clip(0.5, 1.5)
    if kind in ("hood", "scarf"):
        tight = kind == "scarf"
        shell = way * (radii + rng.uniform(0, 8 if tight else 20)) * [1, 1.0, 1.05] + _SKULL_MM
        shell += fold[..., None] * way * 60.0
        wide, high = (rng.uniform(50, 64), rng.uniform(76, 92)) if tight else (
            rng.uniform(58, 80), rng.uniform(75, 108))  # fmt: skip
        middle = rng.uniform(20, 34) if tight else 15.0
        opening = np.hypot(shell[..., 0] / wide, (shell[..., 1] + middle) / high)
        keep = ~((opening < 1.0) & (shell[..., 2] > -70)) & (shell[..., 1] > -110)
        meshes.append(_drape(radii, rng, colour))
        if tight:
            meshes.append(_throat(rng, colour))
    elif kind == "band":
        keep &= shell[..., 1] < edge + rng.uniform(10, 55)
    elif kind == "beanie" and rng.random() < 0.6:  # a cuff
        cuff = (shell[..., 1] < edge + rng.uniform(22, 48)) & keep
        shell += np.where(cuff, rng.uniform(2, 6), 0.0)[..., None] * way
        pattern = pattern * np.where(cuff, rng.uniform(0.7, 1.1), 1.0)[..., None]
    meshes.insert(0, _grid(shell, keep, pattern, Part.HAT))
    if kind in ("cap", "brim"):
        meshes.append(_brim(radii, low, slope, kind == "cap", colour, rng))
    if kind == "backward" and rng.random() < 0.5:
        meshes.append(_strap(radii, low, slope, colour))

    def press(points: Floats) -> Floats:
        if kind == "band":
            return points
        under = points[..., 1] > (
            -110.0 if kind in ("hood", "scarf") else low + slope * (points[..., 2] + 20.0)
        )
        off = (points - _SKULL_MM) / (radii - 5.0)
        far = np.linalg.norm(off, axis=-1, keepdims=True)
        inside = _SKULL_MM + off / np.maximum(far, 1.0) * (radii - 5.0)
        return np.where(under[..., None], inside, points).astype(np.float32)

    return meshes, press


def _folds(across: Floats, up: Floats, kind: str, rng: np.random.Generator) -> Floats:
    """How far cloth rises and falls over a head: ribs, wraps or creases, as a share of it."""
    if kind == "beanie" and rng.random() < 0.6:
        return rng.uniform(0.002, 0.008) * np.sin(across * rng.integers(30, 80))
    if kind in ("turban", "bandana", "scarf", "hood") or rng.random() < 0.3:
        steep, count = rng.normal(0, 0.6), rng.uniform(3, 9)
        wave = np.sin(count * (2 * up + steep * np.cos(across) + rng.uniform(0, 6)))
        side = np.sin(rng.uniform(2, 6) * across + rng.uniform(0, 6) + 2 * up)
        deep = rng.uniform(0.01, 0.035) if kind == "turban" else rng.uniform(0.003, 0.015)
        return deep * (np.abs(wave) - 0.5) + 0.4 * deep * side
    return np.zeros_like(across)


def _throat(rng: np.random.Generator, colour: Floats) -> Mesh:
    """A scarf's cloth from under the chin down over the neck."""
    across, down = np.meshgrid(np.linspace(-1.9, 1.9, 41), np.linspace(0, 1, 16))
    wide = 60 + 70 * down
    y = -rng.uniform(96, 116) - 90 * down + 34 * (1 - np.cos(across)) * (1 - down)
    z = -62 + np.cos(across) * (wide + 5) * 0.8 + 6 * np.sin(9 * down + across * 2)
    points = np.stack([np.sin(across) * wide, y, z], -1)
    return _grid(points, np.ones(across.shape, bool), _patterned(points, colour, rng), Part.HAT)


def _strap(radii: Floats, low: float, slope: float, colour: Floats) -> Mesh:
    across, up = np.meshgrid(np.linspace(-0.6, 0.6, 25), np.linspace(0, 1, 4))
    y = low + slope * 100.0 - 2 + 14 * up
    points = np.stack(
        [np.sin(across) * radii[0], y, np.cos(across) * radii[2] * 1.005 + _SKULL_MM[2]], -1
    )
    colours = np.tile(colour * 0.6, (*across.shape, 1))
    return _grid(points, np.ones(across.shape, bool), colours, Part.HAT)


def before_the_face(rng: np.random.Generator) -> Strokes:
    """Flowers, leaves, a stick, a cup or a phone held before the face: blobs in one heap."""
    spot = np.array([rng.normal(0, 45), rng.uniform(-120, 10), rng.uniform(20, 60)])
    count = int(rng.integers(1, 28))
    reach = rng.uniform(8, 45)
    middles = spot + rng.normal(0, reach, (count, 3)) * [1.0, 1.0, 0.3]
    way = rng.normal(0, rng.uniform(3, 60), (count, 3)) * [1, 1, 0.3]
    points = middles[:, None] + way[:, None] * np.linspace(-0.5, 0.5, 5)[None, :, None]
    radius = np.exp(rng.uniform(np.log(3), np.log(22), (count, 1)))
    shape = np.array([0.4, 0.9, 1.0, 0.9, 0.4])[None]
    colour = any_colour(rng) * np.exp(rng.normal(0, 0.3, (count, 1)))
    return Strokes(
        points_mm=points.astype(np.float32), radius_mm=(radius * shape).astype(np.float32),
        colours=np.clip(colour, 0.004, 0.95).astype(np.float32), label=Part.HAND, is_hair=False,
        gloss=float(rng.uniform(0, 0.4)),
    )  # fmt: skip


def trinkets(head: Head, rng: np.random.Generator) -> list[Strokes]:
    """Earrings and studs, which count as ear, and cords of earphones, which count as clothes."""
    made = []
    if rng.random() < 0.25:
        colour = np.array([0.8, 0.65, 0.3]) if rng.random() < 0.5 else any_colour(rng)
        size, long = rng.uniform(1.5, 4.0), rng.choice([2.0, rng.uniform(8, 45)])
        for side in ("own_left", "own_right"):
            if rng.random() < 0.85:
                lobe = np.asarray(head.point(f"ear_lobe_{side}"), float) + np.array([0, 4, 4])
                path = lobe + np.linspace(0, 1, 5)[:, None] * np.array([0, -long, 0])
                made.append(_stroke(path, size, colour, Part.EAR))
    if rng.random() < 0.06:
        colour = any_colour(rng)
        for side, sign in (("own_left", 1.0), ("own_right", -1.0)):
            ear = np.asarray(head.point(f"tragus_{side}"), float)
            ear = ear + np.array([sign * 4, 0, 4])
            low = np.array([sign * rng.uniform(5, 70), -210, 20.0])
            bend = (ear + low) / 2 + [sign * rng.uniform(-10, 25), 0, rng.uniform(0, 20)]
            path = np.stack([ear, ear + np.array([0, -12, 3]), bend, low])
            made.append(_stroke(path, rng.uniform(0.9, 1.8), colour, Part.CLOTHES))
            made.append(_stroke(np.stack([ear, ear + np.array([0, -6, 2])]), 5.0, colour, Part.EAR))
    return made


def mask(head: Head, rng: np.random.Generator) -> list[Mesh]:
    """A cloth over mouth and chin, over the nose or just below it."""
    middle = head.vertices_mm[head.triangles].mean(axis=1)
    top = rng.choice([rng.uniform(-32, -14), rng.uniform(-60, -48)], p=[0.85, 0.15])
    line = top - 0.2 * np.abs(middle[:, 0]) * rng.uniform(0.3, 1.2)
    chosen = (middle[:, 1] < line) & (middle[:, 1] > -119) & (middle[:, 2] > rng.uniform(-60, -30))
    chosen &= ~np.isin(head.region_of_triangle, [0])
    used, corners = np.unique(head.triangles[chosen], return_inverse=True)
    triangles = corners.reshape(-1, 3)
    points = head.vertices_mm[used]
    out = vertex_normals(head.vertices_mm, head.triangles)[used]
    points = points + out * rng.uniform(4, 9) + [0.0, 0.0, rng.uniform(1, 6)]
    white = np.array([0.75, 0.75, 0.74])
    colour = white if rng.random() < 0.3 else any_colour(rng)
    colours = colour * (1 + 0.12 * np.sin(points[:, 1:2] / rng.uniform(2, 6)))
    return [plain_mesh(points, triangles, colours, Part.MASK)]


def mask_loops(head: Head, rng: np.random.Generator) -> list[Strokes]:
    """The cords of a mask, from the cheeks round the ears."""
    strokes = []
    for sign, side in ((1.0, "own_left"), (-1.0, "own_right")):
        top = np.asarray(head.point(f"ear_top_{side}"), float) + np.array([-sign * 3, 0, 0])
        low = np.asarray(head.point(f"ear_lobe_{side}"), float) + np.array([-sign * 3, 0, -8])
        front = np.array([sign * 60.0, -35.0, -40.0])
        path = np.stack(
            [front, top, (top + low) / 2 - [0, 0, 16], low, front + np.array([0, -40.0, 5])]
        )
        strokes.append(_stroke(path, rng.uniform(0.7, 1.8), np.array([0.6, 0.6, 0.6]), Part.MASK))
    return strokes


def hand(skin: Floats, rng: np.random.Generator) -> Strokes:
    """A hand at the chin, a cheek, the brow or an ear: palm, fingers and forearm as fat strokes."""
    sign = rng.choice([-1.0, 1.0])
    spot = np.array([
        [rng.uniform(-25, 25), -100.0, 20.0], [sign * 52.0, -55.0, -5.0], [sign * 62.0, 25.0, -5.0],
        [sign * 82.0, -20.0, -70.0], [rng.uniform(-20, 20), -62.0, 32.0],
    ])[rng.integers(5)]  # fmt: skip
    spot = spot + rng.normal(0, 8, 3) + [0, 0, 10]
    up = _unit(np.array([rng.normal(0, 0.5), rng.uniform(0.2, 1.0), rng.normal(0, 0.2)]))
    side = _unit(np.cross(up, [0.15 * rng.normal(), 0, 1.0]))
    palm = spot - up * rng.uniform(30, 60)
    strokes, radii = [], []
    spread, bend = rng.uniform(0.0, 0.25), rng.uniform(-0.2, 0.3)
    for finger in range(4):
        at = palm + side * (finger - 1.5) * 19.0
        way = _unit(up + side * (finger - 1.5) * spread)
        reach = np.linspace(0, (78, 88, 84, 66)[finger] * rng.uniform(0.5, 1.0), 5)[:, None]
        strokes.append(at + way * reach + np.array([0, 0, -bend]) * reach)
        radii.append(np.linspace(9.5, 6.5, 5))
    for k in (-1.0, 0.0, 1.0):
        strokes.append(palm + side * k * 19.0 - up * np.linspace(0, 75, 5)[:, None])
        radii.append(np.full(5, 15.0))
    thumb = palm - up * 45 - side * sign * 30
    strokes.append(thumb + (up * 0.8 - side * sign * 0.5) * np.linspace(0, 60, 5)[:, None])
    radii.append(np.linspace(12, 8.5, 5))
    down = _unit(-up + np.array([rng.normal(0, 0.4), -0.5, 0.1]))
    strokes.append(palm - up * 70 + down * np.linspace(0, 260, 5)[:, None])
    radii.append(np.linspace(27, 36, 5))
    tones = skin * np.exp(rng.normal(0, 0.12)) * np.exp(rng.normal(0, 0.04, (len(strokes), 3)))
    return Strokes(
        points_mm=np.stack(strokes).astype(np.float32),
        radius_mm=np.stack(radii).astype(np.float32),
        colours=tones.astype(np.float32),
        label=Part.HAND,
        is_hair=False,
        gloss=0.1,
    )


def clothes(head: Head, skin: Floats, rng: np.random.Generator) -> Mesh:
    """Shoulders under cloth, bare at the neck more or less, turned a little their own way."""
    points, triangles = build_bust(head)
    pivot = head.neck_pivot_mm.astype(float)
    colour = any_colour(rng)
    collar = np.array([0.0, -165.0, -95.0])
    off = points - collar
    deep, wide = rng.uniform(-10, 130), rng.uniform(0.3, 1.4)
    bare = (off[:, 2] > 0) & (off[:, 1] > -deep) & (np.abs(off[:, 0]) < wide * (deep + off[:, 1]))
    is_bare = bare[triangles].all(axis=1)
    colours = np.where(bare[:, None], skin, _patterned(points, colour, rng))
    turn = rotation_from_pose(rng.normal(0, 25), 0.0, rng.normal(0, 5))
    made = plain_mesh((points - pivot) @ turn.T + pivot, triangles, colours, Part.CLOTHES, 0.03)
    made.label[is_bare] = Part.SKIN
    made.kind[is_bare] = 2
    return made


def _stroke(path: Floats, radius: float, colour: Floats, label: int = Part.GLASSES) -> Strokes:
    steps = np.linspace(0, len(path) - 1, 3 * len(path))
    smooth = np.stack([np.interp(steps, np.arange(len(path)), path[:, a]) for a in range(3)], 1)
    return Strokes(
        points_mm=smooth[None].astype(np.float32),
        radius_mm=np.full((1, len(smooth)), radius, np.float32),
        colours=np.asarray(colour, np.float32)[None],
        label=label,
        is_hair=False,
        gloss=0.35,
    )


def _grid(points: Floats, keep: NDArray[np.bool_], colours: Floats, label: int) -> Mesh:
    rows, columns = keep.shape
    index = np.arange(rows * columns).reshape(rows, columns)
    a, b, c, d = index[:-1, :-1], index[:-1, 1:], index[1:, :-1], index[1:, 1:]
    whole = keep[:-1, :-1] & keep[:-1, 1:] & keep[1:, :-1] & keep[1:, 1:]
    triangles = np.concatenate([np.stack([a, b, c], -1)[whole], np.stack([b, d, c], -1)[whole]])
    return plain_mesh(points.reshape(-1, 3), triangles, colours.reshape(-1, 3), label)


def _drape(radii: Floats, rng: np.random.Generator, colour: Floats) -> Mesh:
    across, down = np.meshgrid(
        np.linspace(start := rng.uniform(1.2, 1.7), 2 * np.pi - start, 41), np.linspace(0, 1, 20)
    )
    wide = 1.0 + 0.25 * down + 0.04 * np.sin(across * rng.uniform(5, 12)) * down
    x, z = np.sin(across) * radii[0] * wide, np.cos(across) * radii[2] * wide
    points = np.stack([x, 10 - 190 * down, z], -1) + _SKULL_MM * [1, 0, 1]
    return _grid(points, np.ones(across.shape, bool), _patterned(points, colour, rng), Part.HAT)


def _brim(
    radii: Floats, low: float, slope: float, is_cap: bool, colour: Floats, rng: np.random.Generator
) -> Mesh:
    reach = rng.uniform(40, 75) if is_cap else rng.uniform(35, 110)
    half = 1.0 if is_cap else np.pi
    across, out = np.meshgrid(np.linspace(-half, half, 49), np.linspace(0, 1, 8))
    taper = np.cos(across / half * np.pi / 2) if is_cap else 1.0
    far = 0.96 + out * reach * taper / radii[0]
    x, z = np.sin(across) * radii[0] * far, np.cos(across) * radii[2] * far
    dip = rng.uniform(-0.1, 0.35) * out * reach * (np.cos(across) if is_cap else 1.0)
    y = low + slope * (z + _SKULL_MM[2] + 20.0) - dip - 0.0015 * x**2 * (out if is_cap else 0.2)
    points = np.stack([x, y, z + _SKULL_MM[2]], -1)
    return _grid(points, np.ones(across.shape, bool), _patterned(points, colour, rng), Part.HAT)


def _patterned(points: Floats, colour: Floats, rng: np.random.Generator) -> Floats:
    """Cloth: plain, ribbed, striped or mottled (..., 3)."""
    amount, size = rng.choice([0.03, 0.25, 0.7]), rng.uniform(2.0, 25.0)
    way = rng.normal(size=(3, 2))
    wave = np.sin(points @ way[:, :1] / size) * np.cos(0.5 * points @ way[:, 1:] / size)
    other = any_colour(rng) if rng.random() < 0.3 else colour * 0.4
    share = np.clip(0.5 * amount * (wave + 1.0), 0.0, 1.0)
    return colour * (1.0 - share) + other * share


def _unit(vector: Floats) -> Floats:
    return vector / max(float(np.linalg.norm(vector)), 1e-9)
