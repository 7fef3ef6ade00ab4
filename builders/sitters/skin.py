"""Skin of the invented sitters: tone, flush, blotches, freckles, lips, and the roots of hair.

Colours and normals sit on the split corners of ``traced/skin.py``, so they stay with the skin.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from builders.sitters.cast import Person
from builders.traced.faces import soft_region
from builders.traced.skin import BEARD_REGIONS, lash_line, skin_surface
from sitwell.head.surface import SIDES, Head

Array = NDArray[np.float64]
_BUMP = 0.06  # the roughest pores' slope


def share(*stems: str, rounds: int = 0) -> Array:
    """How far each corner (N,) belongs to the regions of these names."""
    return np.asarray(skin_surface().weights @ soft_region(stems, rounds))


def colours(head: Head, person: Person, hair: Array) -> Array:
    """Linear colour (N, 3) of the skin; ``hair`` (3,) is what its roots show."""
    rng = np.random.default_rng((person.seed, 2))
    places = skin_surface().weights @ head.vertices_mm.astype(np.float64)
    uneven = (
        0.03 * waves(places, 26.0, rng) + 0.014 * waves(places, 8.0, rng)
        + 0.016 * waves(places, 2.4, rng) + 0.03 * rng.normal(size=len(places))
    )  # fmt: skip
    uneven -= _spots(places, person, rng)
    tint = np.log(person.tone_array / person.tone_array.max())
    made = person.tone_array * np.exp(uneven[:, None] * (1.0 - 0.4 * tint))
    # blood: red where skin is thin or warm, in patches
    flush = person.flush * (1.0 + 0.2 * waves(places, 14.0, rng))
    thin = np.maximum(share("EAR", rounds=2), 0.8 * share("NOSE_TIP", "NOSE_WING", rounds=5))
    warm = np.maximum(thin, 0.9 * _bell(places, head, "cheek"))
    made *= np.exp((flush * warm)[:, None] * (0.25, -0.75, -0.6))
    # the lower lids are a little darker and bluer
    made *= np.exp(-0.22 * share("LID_LOWER", rounds=3)[:, None] * (1.0, 1.05, 0.75))
    made = _with_lips(made, places, rng)
    made *= 1.0 - 0.9 * share("SOCKET", "NOSTRIL")[:, None] * (0.9, 1.0, 1.0)
    rooted = _roots(person, rng)[:, None]
    made = made * (1.0 - rooted) + hair * rooted
    made *= lash_line(places, head, 1.5, 0.55, 0.22)[:, None] ** np.array([0.8, 1.0, 1.0])
    return np.asarray(np.clip(made, 0.002, 0.92))


def bumps(head: Head, person: Person) -> Array:
    """What pores and creases add to the skin's normals (N, 3)."""
    rng = np.random.default_rng((person.seed, 1))
    places = skin_surface().weights @ head.vertices_mm.astype(np.float64)
    rough = 0.35 + 0.65 * share("NOSE", "CHEEK", "FOREHEAD", "CHIN", rounds=2)
    fine = rng.normal(size=places.shape)
    coarse = np.stack([waves(places, 1.3, rng) for _ in range(3)], axis=1)
    made = _BUMP * rough[:, None] * (0.8 * fine + 0.35 * coarse)
    lips = share("LIP_")
    made[:, 0] += 0.12 * lips * np.sin(places[:, 0] * 4.6 + 1.2 * np.sin(places[:, 0]))
    return np.asarray(made)


def waves(places: Array, size_mm: float, rng: np.random.Generator) -> Array:
    """A value (N,) of about one in size that changes over ``size_mm``."""
    total = np.zeros(len(places))
    for _ in range(9):
        way = rng.normal(size=3)
        way *= 2.0 * np.pi / (size_mm * np.exp(rng.normal(0.0, 0.35)) * np.linalg.norm(way)) / 2.0
        bent = np.sin(places @ rng.normal(0.0, 1.0 / size_mm, 3) + rng.uniform(0, 6.28))
        total += np.sin(places @ way + 1.8 * bent + rng.uniform(0, 6.28))
    return np.asarray(total / 2.1)


def _bell(places: Array, head: Head, what: str) -> Array:
    """How far each place lies on the cheeks' apples."""
    near = np.zeros(len(places))
    for side in SIDES:
        middle = 0.5 * (head.point(f"cheekbone_{side}") + head.point(f"mouth_corner_{side}"))
        away = (places - middle - [0.0, 10.0, 0.0]) / (19.0, 17.0, 26.0)
        near = np.maximum(near, np.exp(-(away**2).sum(axis=1)))
    return near


def _with_lips(made: Array, places: Array, rng: np.random.Generator) -> Array:
    """Lips redder and creased, the upper one in its own shade."""
    lips = share("LIP_", rounds=0)
    creases = 1.0 + 0.04 * np.sin(places[:, 0] * 4.6 + 1.2 * np.sin(places[:, 0]))
    tint = np.array([0.80, 0.54, 0.56]) * np.exp(rng.normal(0.0, 0.04, 3))
    upper = 1.0 - 0.18 * share("LIP_UPPER")
    lip = made * tint * (creases * upper)[:, None]
    return np.asarray(made * (1.0 - lips[:, None]) + lip * lips[:, None])


def _spots(places: Array, person: Person, rng: np.random.Generator) -> Array:
    """What freckles and moles (N,) take from the skin, as natural logarithm."""
    near, dark = cKDTree(places), np.zeros(len(places))
    sunny = share("CHEEK", "NOSE", "FOREHEAD", rounds=2) ** 2
    anywhere = share("CHEEK", "FOREHEAD", "JAW", "NECK", "CHIN", "TEMPLE")
    for count, where, radius, depth in (
        (person.freckles, sunny, (0.35, 0.9), (0.10, 0.38)),
        (person.moles, anywhere, (0.6, 1.3), (0.5, 1.2)),
    ):
        for middle in rng.choice(len(places), count, p=where / where.sum()):
            wide = rng.uniform(*radius)
            spot = near.query_ball_point(places[middle], 2.2 * wide)
            away = np.linalg.norm(places[spot] - places[middle], axis=1) / wide
            dark[spot] += rng.uniform(*depth) / (1.0 + away**4)
    return dark


def _roots(person: Person, rng: np.random.Generator) -> Array:
    """How much of the skin (N,) hair hides at its roots."""
    grain = rng.random(skin_surface().weights.shape[0])
    brows = 0.45 * share("BROW") ** 2
    shadow: Array | float = 0.0
    if person.beard_mm > 0.0:
        beard = share(*BEARD_REGIONS, rounds=3) * (1.0 - share("LIP_", rounds=1))
        shadow = 0.28 * beard * np.where(grain < 0.5, 1.0, 0.4)
    scalp = share("SCALP", rounds=2)
    covered = scalp * (0.12 * (grain < 0.3) if person.hair == "bald" else 0.9)
    return np.asarray(1.0 - (1.0 - brows) * (1.0 - shadow) * (1.0 - covered))
