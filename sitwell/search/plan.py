"""What a search gives: set-ups with what they gain, cost and allow, as plain frozen values."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from sitwell.scene.setup import Setup


@dataclass(frozen=True, slots=True, kw_only=True)
class Gain:
    """What one wish gets: ``was`` and ``becomes`` are the measure that stands for the wish.

    ``gain`` is the change in the wished direction in units of what a viewer can notice
    (1 = just noticeable), so that wishes can be weighed against each other.
    """

    wish: str
    measure: str
    was: float
    becomes: float
    gain: float


@dataclass(frozen=True, slots=True, kw_only=True)
class GuardState:
    """One guard: the measure, its limit, on which side it must stay, and whether it holds."""

    name: str
    measure: str
    value: float
    limit: float
    must_be: str  # "at least" or "at most"
    holds: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Leeway:
    """How far one move may drift, alone, before a guard breaks or a tenth of the gain is lost."""

    move: str
    low: float
    high: float
    low_why: str
    high_why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """What one move contributes: take it back to the straight-on value and see what is lost."""

    move: str
    from_value: float
    to_value: float
    contribution: float
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Conflict:
    """Two wishes, or a wish and a guard, that pull one move in opposite directions."""

    first: str
    second: str
    move: str
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedSetup:
    """One set-up to shoot, with all that a photographer needs to judge and hold it.

    ``light`` is what the key is where nobody can move it: "sun", "shade" or "window"; else "".
    """

    name: str
    setup: Setup
    measures: Mapping[str, float]
    gains: tuple[Gain, ...]
    guards: tuple[GuardState, ...]
    leeway: tuple[Leeway, ...]
    reasons: tuple[Reason, ...]
    notes: tuple[str, ...] = ()
    light: str = ""

    @property
    def asked(self) -> tuple[str, ...]:
        """The wishes that the set-up answers."""
        return tuple(dict.fromkeys(gain.wish for gain in self.gains))

    @property
    def wears_glasses(self) -> bool:
        """Whether the sitter wears glasses: then it tells how far a pane is from glare."""
        values = [v for name, v in self.measures.items() if name.startswith("glare_")]
        return "glasses" in self.asked or any(math.isfinite(value) for value in values)


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """The straight-on frame, the set-ups in order of strength, and where wishes collide."""

    baseline: Setup
    baseline_measures: Mapping[str, float]
    setups: tuple[PlannedSetup, ...]
    conflicts: tuple[Conflict, ...]
    notes: tuple[str, ...] = ()
