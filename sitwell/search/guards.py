"""Guards: limits of picture, studio and comfort that no wish may push a set-up past.

A guard is about a move or a picture, never about the sitter's worth. Limits without a source are
design choices. Those that start "no worse than straight on" take the sitter's own face as it is.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sitwell.base.words import tr
from sitwell.scene.rim import CLEAR_DEG
from sitwell.scene.sun import SQUINT_DEG
from sitwell.search.choices import NEAREST_MM, WIDEST_EQUIVALENT_MM
from sitwell.search.plan import GuardState
from sitwell.search.sentences import GUARD_SENTENCES

Vector = NDArray[np.float64]
FAR_EYE_COC = 1.5  # circles of confusion: soft beside the near eye, still an eye (design choice)


@dataclass(frozen=True, slots=True, kw_only=True)
class Guard:
    """One limit; ``scale`` is how far past it counts as one unit of violation."""

    name: str
    measure: str
    limit: float
    must_be: str
    scale: float

    @property
    def sentence(self) -> str:
        """What happens when it breaks, in plain words."""
        return tr(GUARD_SENTENCES[self.name])


def _at_least(name: str, measure: str, limit: float, scale: float) -> Guard:
    return Guard(name=name, measure=measure, limit=limit, must_be="at least", scale=scale)


def _at_most(name: str, measure: str, limit: float, scale: float) -> Guard:
    return Guard(name=name, measure=measure, limit=limit, must_be="at most", scale=scale)


def make_guards(baseline: Mapping[str, float]) -> tuple[Guard, ...]:
    """The guards of one sitter, from the straight-on measures and studio facts."""
    guards = (
        # Trade: the nose stays inside the cheek, above the lip and clear of the socket.
        _at_least("nose line", "nose_break", min(0.0, baseline["nose_break"]), 0.02),
        # At most two fifths more than straight on.
        _at_most("nostrils", "nostril_show", 1.4 * baseline["nostril_show"] + 0.0002, 0.0005),
        # Gone or well in view; the hair's breadth of room is the raster's grain.
        _at_most("far ear", "ear_sliver", max(0.02, baseline["ear_sliver"]), 0.3),
        # What a head of usual depth shows at 0.9 m (nose tip to ears 125 mm: 1.16).
        _at_most("stretch", "near_far_stretch", max(1.17, baseline["near_far_stretch"]), 0.03),
        _at_least("distance", "distance_mm", NEAREST_MM, 100.0),
        _at_least("lens", "equivalent_mm", WIDEST_EQUIVALENT_MM - 0.5, 5.0),
        # A turn alone makes even eyes 0.72 at about 45 deg; eyes less even than that straight on
        # may not lose more than a twentieth.
        _at_least("eyes even", "eye_balance", min(baseline["eye_balance"] - 0.05, 0.72), 0.05),
        _at_least("catchlight", "catchlights", 1.0, 1.0),
        # A near eye that blurs by more than a circle of confusion is not sharp.
        _at_most("near eye sharp", "blur_near_eye_coc", 1.0, 0.5),
        # Both eyes should look sharp; where straight on is softer, no softer than that.
        _at_most("far eye sharp", "blur_far_eye_coc", FAR_EYE_COC, 0.5),
        # One millimetre on a face 185 mm high: about where the lid's own spread ends (Dutton:
        # the lower lid lies at the iris's edge or up to 1 mm above it).
        _at_most("eye whites", "white_below", max(0.0, baseline["white_below"]) + 1 / 185, 1 / 185),
        _at_least("crop", "crop_clearance", 0.0, 0.02),
        _at_least("glare own left", "glare_own_left_deg", 2.0, 4.0),
        _at_least("glare own right", "glare_own_right_deg", 2.0, 4.0),
        _at_least("ceiling", "key_below_ceiling_mm", 0.0, 100.0),
        _at_least("walls", "key_inside_walls_mm", 0.0, 100.0),
        _at_least("floor", "key_above_floor_mm", 0.0, 100.0),
        _at_least("key out of picture", "key_out_of_picture_mm", 20.0, 100.0),
        _at_least("key off lens", "key_clear_of_lens_mm", 0.0, 100.0),
        _at_least("stand", "key_on_stand_mm", 0.0, 100.0),
        _at_least("knees", "key_clear_of_knees_mm", 0.0, 100.0),
        _at_least("window wall", "camera_before_wall_mm", 0.0, 100.0),
        _at_least("window free", "camera_out_of_light_mm", 0.0, 100.0),
        _at_least("squint", "gaze_to_sun_deg", SQUINT_DEG, 5.0),
        # Placed by the eyes, read by the whole head: a degree between the two.
        _at_least("rim light off lens", "rim_flare_deg", CLEAR_DEG - 1.0, 2.0),
        _at_least("rim light in room", "rim_in_room_mm", 0.0, 100.0),
        _at_least("closest focus", "focus_clearance_mm", 0.0, 50.0),
        _at_least("hand-held", "handheld_stops", 0.0, 0.5),
    )
    return tuple(guard for guard in guards if not math.isnan(guard.limit))


class Guards:
    """All guards of a search on vectors; a value that is not a number breaks nothing."""

    def __init__(self, guards: Sequence[Guard], names: Sequence[str]) -> None:
        place = {name: index for index, name in enumerate(names)}
        self.guards = tuple(guards)
        self._index = np.array([place[guard.measure] for guard in guards], dtype=int)
        self._limit = np.array([guard.limit for guard in guards])
        self._sign = np.array([1.0 if g.must_be == "at least" else -1.0 for g in guards])
        self._scale = np.array([guard.scale for guard in guards])

    def violations(self, vector: Vector) -> Vector:
        """How far each guard is broken, in its own scale; negative = in hand, at most one unit."""
        past = self._sign * (self._limit - vector[self._index]) / self._scale
        return np.clip(np.nan_to_num(past, nan=-1.0, neginf=-1.0), -1.0, 50.0)

    def broken(self, vector: Vector) -> tuple[Guard, ...]:
        """The guards that don't hold."""
        past = self.violations(vector)
        return tuple(g for g, v in zip(self.guards, past, strict=True) if v > 1e-9)

    def holds(self, name: str, vector: Vector) -> bool:
        """Whether one guard holds."""
        return all(guard.name != name for guard in self.broken(vector))

    def held(self, vector: Vector) -> set[str]:
        """The names of the guards that hold."""
        return {guard.name for guard in self.guards} - {g.name for g in self.broken(vector)}

    def states(self, vector: Vector) -> tuple[GuardState, ...]:
        """Every guard that can be read, with its value and whether it holds."""
        broken = self.broken(vector)
        return tuple(
            GuardState(
                name=guard.name,
                measure=guard.measure,
                value=float(vector[index]),
                limit=guard.limit,
                must_be=guard.must_be,
                holds=guard not in broken,
            )
            for guard, index in zip(self.guards, self._index, strict=True)
            if math.isfinite(vector[index])
        )
