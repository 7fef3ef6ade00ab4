"""Where the key stands, from how the skin of a fitted head is shaded.

Model: linear light from a patch of skin = fill + key * max(0, normal . direction), with the key
blocked where the head itself stands in its way, and weaker by the square of the way to it. One
skin tone for the whole face; patches that differ (hair, shine, make-up, shade from elsewhere) are
held down by a robust cost. Lambert's law; the direction is sought on a grid, then between its
points, for a few distances of the key, of which the best fitting one stands.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sitwell.base.rotations import camera_axes, direction_from_angles
from sitwell.base.threads import one_blas_thread
from sitwell.head.facing import in_front, vertex_normals
from sitwell.head.pose import HeadPose, project
from sitwell.head.regions import Region
from sitwell.head.surface import Head

_SKIN = tuple(
    region
    for region in Region
    if region.name.startswith(
        ("FOREHEAD", "TEMPLE", "NOSE_R", "NOSE_SIDE", "CHEEK", "UPPER_LIP_SKIN", "CHIN", "JAW")
    )
)
_AZIMUTHS_DEG = np.arange(-100.0, 101.0, 10.0)
_ELEVATIONS_DEG = np.arange(-30.0, 81.0, 10.0)
# A key near enough to fall off over the face looks farther round and higher than it is.
_KEY_DISTANCES_MM = (1000.0, 2000.0, np.inf)
_FACING_LENS = 0.35  # patches seen more slantingly than this mix with what is behind them
_CLIPPED = 250
_FEWEST_PATCHES, _MOST_PATCHES = 60, 700
# Where hair and beards may lie over the skin, and how far their colour then is from the skin's
# (natural logarithm of red or blue over green).
_HAIRY = ("FOREHEAD", "TEMPLE", "UPPER_LIP", "CHIN", "JAW")
_OTHER_COLOUR = 0.3
# Percentiles between which patches are red enough to show the skin's own colour, and how much of
# what looks like gloss is taken off: all of it would take warm shade for it.
_SKINS_OWN, _GLOSS_TAKEN, _LEAST_COLOURED = (50, 90), 0.7, 0.15
LUMINANCE = np.array([0.2126, 0.7152, 0.0722])  # of linear red, green, blue (IEC 61966-2-1)
_HUBER = 1.5
_ROUNDS = 3
# Skin shines, hair shades, rooms reflect: renders do none of it, so no direction is surer than
# this, and what the regions disagree counts double. A judgement, not a measurement.
_LEAST_SPREAD_DEG = 8.0
_REAL_SKIN = 2.0
_DEEPEST_FILL_SHARE = 0.01
# How portraits are lit: the key mostly well above the eyes, seldom below (common practice; the
# numbers are judgements). Skin speaks as loudly as so many patches that err apart from each other,
# so that a key that is plainly low is read low.
_USUAL_ELEVATION_DEG, _HIGHER_DEG, _LOWER_DEG = 35.0, 25.0, 18.0
_APART_PATCHES = 60.0

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class LightReading:
    """The key's azimuth and elevation against the line of sight, with one sigma in degrees.

    ``fill_ratio`` is additive, key plus fill over fill alone; ``key_share`` (0..1) is how much of
    the brightest skin's light is the key's: near 0 the light is even and has no direction.
    """

    key_azimuth_deg: float
    key_elevation_deg: float
    spread_deg: float
    fill_ratio: float
    key_share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Patches:
    """Skin patches: place (n, 3) and normal (n, 3) in line-of-sight axes, light, area, region."""

    place_mm: Array
    normal: Array
    light: Array
    area: Array
    region: NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Key:
    """A key tried: its angles (2,), its distance, the patches it reaches (n,) and its misfit."""

    angles_deg: Array
    distance_mm: float
    lit: NDArray[np.bool_] | None
    misfit: float


def read_light(
    rgb: NDArray[np.uint8], head: Head, pose: HeadPose, focal_px: float, centre_px: Array
) -> LightReading | None:
    """The key's direction from a picture (h, w, 3) in sRGB; focal length and centre in its pixels.

    None where too little skin can be seen.
    """
    with one_blas_thread():
        patches = _skin_patches(rgb, head, pose, focal_px, centre_px)
        if len(patches.light) < _FEWEST_PATCHES:
            return None
        return _best_key(patches, _seen_places(head, pose))


def _best_key(patches: _Patches, every_place: Array) -> LightReading:
    grid = np.stack(np.meshgrid(_AZIMUTHS_DEG, _ELEVATIONS_DEG, indexing="ij"), axis=-1)
    angles = grid.reshape(-1, 2)
    whole = _weighed(patches, angles, np.inf, None)
    start = angles[int(np.argmin(whole))]
    tried = [_refined(patches, every_place, start, far_mm) for far_mm in _KEY_DISTANCES_MM]
    best = min(tried, key=lambda one: one.misfit)
    facing = _facing(patches, best.angles_deg[None], best.distance_mm, best.lit)
    key, fill = (float(part[0]) for part in _solve(patches, facing))
    return LightReading(
        key_azimuth_deg=float(best.angles_deg[0]),
        key_elevation_deg=float(best.angles_deg[1]),
        spread_deg=float(np.hypot(_spread_deg(patches, best), _elsewhere_deg(angles, whole, best))),
        fill_ratio=float((key + fill) / max(fill, _DEEPEST_FILL_SHARE * (key + fill))),
        key_share=float(key / max(key + fill, 1e-9)),
    )


def _refined(patches: _Patches, every_place: Array, start: Array, distance_mm: float) -> _Key:
    """The best direction near ``start`` for a key so far away."""
    best = start
    for reach_deg in (15.0, 12.0, 6.0):
        near = best + _star(reach_deg)
        lit = _unblocked(every_place, patches, best)
        best = near[int(np.argmin(_weighed(patches, near, distance_mm, lit)))]
    lit = _unblocked(every_place, patches, best)
    misfit = float(_weighed(patches, best[None], distance_mm, lit)[0])
    return _Key(angles_deg=best, distance_mm=distance_mm, lit=lit, misfit=misfit)


def linear_from_srgb(values: NDArray[np.uint8]) -> Array:
    """Linear light 0..1 of sRGB bytes (IEC 61966-2-1)."""
    share = np.asarray(values, dtype=np.float64) / 255.0
    return np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)


def _skin_patches(
    rgb: NDArray[np.uint8], head: Head, pose: HeadPose, focal_px: float, centre_px: Array
) -> _Patches:
    corners = head.vertices_mm[head.triangles].astype(np.float64)
    middle = corners.mean(axis=1)
    doubled = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    area = np.linalg.norm(doubled, axis=1)
    axes = camera_axes(np.zeros(3), pose.place_mm) @ pose.rotation
    mixed = vertex_normals(head.vertices_mm.astype(np.float64), head.triangles)[head.triangles].sum(
        axis=1
    )
    normal = mixed / np.maximum(np.linalg.norm(mixed, axis=1, keepdims=True), 1e-9) @ axes.T
    place = middle @ axes.T
    pixel = np.floor(project(middle, pose, focal_px, centre_px)).astype(int)
    height, width = rgb.shape[:2]
    inside = ((pixel >= 1) & (pixel < (width - 1, height - 1))).all(axis=1)
    wanted = (
        inside & (normal[:, 2] > _FACING_LENS) & np.isin(head.region_of_triangle, _SKIN)
        & in_front(place, place)
    )  # fmt: skip
    chosen = np.flatnonzero(wanted)
    around = _three_by_three(rgb, pixel[chosen])
    colour = linear_from_srgb(around).mean(axis=1)
    usable = around.max(axis=(1, 2)) < _CLIPPED
    usable &= _is_skin(colour, head.region_of_triangle[chosen])
    few = np.flatnonzero(usable)
    few = few[:: max(1, len(few) // _MOST_PATCHES)]
    chosen, colour = chosen[few], colour[few]
    light = _without_gloss(colour) @ LUMINANCE
    return _Patches(
        place_mm=place[chosen],
        normal=normal[chosen],
        light=light,
        area=area[chosen],
        region=head.region_of_triangle[chosen].astype(np.int64),
    )


def _is_skin(colour: Array, region: NDArray[np.uint8]) -> NDArray[np.bool_]:
    """Whether patches (n, 3) of hairy regions have the colour of the bare ones."""
    hue = np.log(np.maximum(colour[:, (0, 2)], 1e-4) / np.maximum(colour[:, 1:2], 1e-4))
    hairy = np.isin(region, [r for r in Region if r.name.startswith(_HAIRY)])
    if hairy.all():
        return hairy
    apart = np.abs(hue - np.median(hue[~hairy], axis=0)).max(axis=1)
    return ~hairy | (apart < _OTHER_COLOUR)


def _without_gloss(colour: Array) -> Array:
    """Colours (n, 3) of skin less most of the light that shines off its surface uncoloured.

    Each is taken for so much of the skin's own colour and so much of the light's (Shafer 1985, the
    dichromatic reflection model); the skin's own is that of its more coloured half. In a picture
    with hardly any colour nothing is taken.
    """
    if not len(colour):
        return colour
    hue = np.log(np.maximum(colour, 1e-4))
    coloured = hue[:, 0] - hue[:, 1:].mean(axis=1)
    low, high = np.percentile(coloured, _SKINS_OWN)
    own = hue[(coloured >= low) & (coloured <= high)]
    skin = np.exp(own - own.mean(axis=1, keepdims=True)).mean(axis=0)
    if np.ptp(skin) < _LEAST_COLOURED:
        return colour
    shares = np.linalg.lstsq(np.stack([skin, np.ones(3)], axis=1), colour.T, rcond=None)[0]
    gloss = _GLOSS_TAKEN * np.maximum(shares[1], 0.0)
    return np.asarray(np.maximum(colour - gloss[:, None], 1e-4))


def _three_by_three(rgb: NDArray[np.uint8], pixel: NDArray[np.int64]) -> NDArray[np.uint8]:
    """The nine pixels (n, 9, 3) around each pixel (n, 2)."""
    dx, dy = np.meshgrid((-1, 0, 1), (-1, 0, 1))
    return rgb[pixel[:, 1, None] + dy.reshape(-1), pixel[:, 0, None] + dx.reshape(-1)]


def _seen_places(head: Head, pose: HeadPose) -> Array:
    axes = camera_axes(np.zeros(3), pose.place_mm) @ pose.rotation
    return head.vertices_mm[head.triangles].mean(axis=1).astype(np.float64) @ axes.T


def _unblocked(every_place: Array, patches: _Patches, angles_deg: Array) -> NDArray[np.bool_]:
    """Which patches the light from this direction reaches past the rest of the head."""
    toward = direction_from_angles(*angles_deg)
    axes = camera_axes(toward, np.zeros(3)).T
    return in_front(every_place @ axes, patches.place_mm @ axes)


def _facing(
    patches: _Patches, angles: Array, distance_mm: float, lit: NDArray[np.bool_] | None
) -> Array:
    """What a key of strength 1 gives n patches, from D directions (D, 2) and so far away.

    The cosine to the key, at least 0, by the inverse square of the way to it against the way to
    the eyes; 0 where blocked.
    """
    directions = _directions(angles)
    along = directions @ patches.normal.T
    nearness = 1.0
    if np.isfinite(distance_mm):
        place = patches.place_mm / distance_mm
        way = 1.0 - 2.0 * directions @ place.T + (place**2).sum(axis=1)
        along = along - (place * patches.normal).sum(axis=1)
        nearness = way**-1.5
    facing = np.clip(along, 0.0, None) * nearness
    return np.asarray(facing if lit is None else facing * lit)


def _directions(angles: Array) -> Array:
    """Unit vectors (D, 3) toward azimuths and elevations (D, 2) in degrees."""
    az, el = np.radians(angles).T
    return np.stack([np.sin(az) * np.cos(el), np.sin(el), np.cos(az) * np.cos(el)], axis=1)


def _weighed(
    patches: _Patches, angles: Array, distance_mm: float, lit: NDArray[np.bool_] | None
) -> Array:
    """How unlikely each direction (D, 2) is: by the skin, and by how portraits are lit."""
    cost = _costs(patches, angles, distance_mm, lit).sum(axis=1) / patches.area.sum()
    over = angles[:, 1] - _USUAL_ELEVATION_DEG
    usual = 0.5 * (over / np.where(over > 0.0, _HIGHER_DEG, _LOWER_DEG)) ** 2
    return np.asarray(_APART_PATCHES * cost + usual)


def _elsewhere_deg(angles: Array, weighed: Array, best: _Key) -> float:
    """How far off the key may lie for all that directions (D, 2) elsewhere explain the skin."""
    likely = np.exp(weighed.min() - weighed) * np.cos(np.radians(angles[:, 1]))
    away = np.degrees(
        np.arccos(np.clip(_directions(angles) @ _directions(best.angles_deg[None])[0], -1.0, 1.0))
    )
    return float(np.sqrt((likely * away**2).sum() / (2.0 * likely.sum())))


def _costs(
    patches: _Patches, angles: Array, distance_mm: float, lit: NDArray[np.bool_] | None
) -> Array:
    """Robust misfit (D, R) of each direction by region of skin, with the best key and fill."""
    facing = _facing(patches, angles, distance_mm, lit)
    key, fill = _solve(patches, facing)
    rest = patches.light - fill[:, None] - key[:, None] * facing
    scale = _scale(patches)
    size = np.abs(rest) / scale
    cost = np.where(size < _HUBER, 0.5 * size**2, _HUBER * (size - 0.5 * _HUBER)) * patches.area
    regions = np.unique(patches.region)
    return np.stack([cost[:, patches.region == r].sum(axis=1) for r in regions], axis=1)


def _scale(patches: _Patches) -> float:
    """What counts as a usual difference between skin patches: a tenth of the middle light."""
    return 0.1 * float(np.median(patches.light)) + 1e-4


def _solve(patches: _Patches, facing: Array) -> tuple[Array, Array]:
    """Key and fill (D,), not below 0, by reweighted least squares."""
    weight = np.broadcast_to(patches.area, facing.shape).copy()
    scale = _scale(patches)
    key = fill = np.zeros(len(facing))
    for _ in range(_ROUNDS):
        total = weight.sum(axis=1)
        mean_f = (weight * facing).sum(axis=1) / total
        mean_l = (weight * patches.light).sum(axis=1) / total
        apart = facing - mean_f[:, None]
        key = (weight * apart * patches.light).sum(axis=1) / np.maximum(
            (weight * apart**2).sum(axis=1), 1e-9
        )
        key = np.clip(key, 0.0, mean_l / np.maximum(mean_f, 1e-9))
        fill = mean_l - key * mean_f
        size = np.abs(patches.light - fill[:, None] - key[:, None] * facing) / scale
        weight = patches.area * np.minimum(1.0, _HUBER / np.maximum(size, 1e-9))
    return key, fill


def _star(reach_deg: float) -> Array:
    step = np.linspace(-reach_deg, reach_deg, 13)
    return np.stack(np.meshgrid(step, step, indexing="ij"), axis=-1).reshape(-1, 2)


def _spread_deg(patches: _Patches, key: _Key) -> float:
    """One sigma from leaving out one region of skin at a time (jackknife)."""
    near = key.angles_deg + _star(30.0)
    by_region = _costs(patches, near, key.distance_mm, key.lit)
    total = by_region.sum(axis=1)
    without = np.argmin(total[:, None] - by_region, axis=0)
    found = near[without]
    count = len(found)
    apart = (found - found.mean(axis=0)) * (np.cos(np.radians(key.angles_deg[1])), 1.0)
    variance = (count - 1) / count * (apart**2).sum()
    return float(np.hypot(_REAL_SKIN * np.sqrt(variance / 2), _LEAST_SPREAD_DEG))
