"""What a sitter can do with ease: the usual ranges, narrowed by the limits a sitter names.

Every degree and millimetre here is a design choice: no published safe angle or holding time for
the neck is known to us, only that a held, raised chin made people dizzy who already had neck
trouble (Foye 2002, Am J Phys Med Rehabil 81(6):395-399). Ask, and believe the sitter.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from sitwell.base.errors import UsageError
from sitwell.base.words import tr

Span = tuple[float, float]
STANDING_EYES_MM = 1550.0
SEATED_EYES_MM = 1200.0
# Stature less eye height, standing: a round figure from memory, near 110 mm in most surveys.
EYES_BELOW_CROWN_MM = 112.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Comfort:
    """Ranges of the sitter's moves, and how high their eyes are above the floor."""

    turn_deg: Span = (-50.0, 50.0)
    chin_deg: Span = (-12.0, 18.0)
    tilt_deg: Span = (-12.0, 12.0)
    chin_forward_mm: Span = (0.0, 35.0)
    camera_height_mm: Span = (-450.0, 450.0)
    eyes_above_floor_mm: float = STANDING_EYES_MM

    def narrowed(self, **spans: Span) -> "Comfort":
        """The overlap with other ranges; a limit never widens what another one allows."""
        changes: dict[str, Any] = {
            name: _overlap(getattr(self, name), span) for name, span in spans.items()
        }
        return replace(self, **changes)


LIMITS: Mapping[str, Mapping[str, Span]] = {
    "stiff-neck": {
        "turn_deg": (-20.0, 20.0),
        "chin_deg": (-5.0, 5.0),
        "tilt_deg": (-4.0, 4.0),
        "chin_forward_mm": (0.0, 10.0),
    },
    "no-chin-up": {"chin_deg": (-12.0, 0.0)},
    "no-chin-down": {"chin_deg": (0.0, 18.0)},
    "dizziness": {"chin_deg": (-5.0, 3.0), "tilt_deg": (-4.0, 4.0)},
    "no-turn-to-own-left": {"turn_deg": (-50.0, 0.0)},
    "no-turn-to-own-right": {"turn_deg": (0.0, 50.0)},
    "no-tilt": {"tilt_deg": (0.0, 0.0)},
    "no-leaning": {"chin_forward_mm": (0.0, 0.0)},
    "seated": {},
    "wheelchair": {},
    "late-pregnancy": {"chin_forward_mm": (0.0, 10.0)},
}
SEATED_LIMITS = frozenset({"seated", "wheelchair", "late-pregnancy"})


def comfort_for(limits: Iterable[str] = ()) -> Comfort:
    """The usual ranges narrowed by each named limit; UsageError lists the names that exist."""
    comfort = Comfort()
    for limit in limits:
        if limit not in LIMITS:
            raise UsageError(
                tr(
                    "The sitter's limit '{limit}' is not known; choose from {known}.",
                    limit=limit,
                    known=", ".join(LIMITS),
                )
            )
        comfort = comfort.narrowed(**LIMITS[limit])
        if limit in SEATED_LIMITS:
            comfort = replace(comfort, eyes_above_floor_mm=SEATED_EYES_MM)
    return comfort


def eyes_above_floor_mm(height_mm: float) -> float:
    """How high the eyes of somebody of a height are above the floor, standing."""
    return height_mm - EYES_BELOW_CROWN_MM


def _overlap(first: Span, second: Span) -> Span:
    low, high = max(first[0], second[0]), min(first[1], second[1])
    if low > high:
        # Two limits that exclude each other leave the middle between them, nearest to neutral.
        middle = min((low, high), key=abs)
        return middle, middle
    return low, high
