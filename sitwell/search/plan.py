"""What a search gives: set-ups with what they gain, cost and allow, as plain frozen values."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sitwell.base.words import message_of
from sitwell.scene.setup import Setup
from sitwell.search.sentences import END_OF_RANGE

ANOTHER = "another"  # the name of what is offered apart from the stops of a way
HARD_DEG = 3.0  # less than this to one side is hard to hold (design choice)


@dataclass(frozen=True, slots=True, kw_only=True)
class Gain:
    """What one wish gets: ``was`` and ``becomes`` are the measure that stands for the wish.

    ``gain`` is the change in the wished direction in units of what a viewer can notice
    (1 = just noticeable), so that wishes can be weighed against each other. ``likely`` holds what
    it becomes on eight in ten of the heads that the frames leave possible; None where only the
    fitted head is known.
    """

    wish: str
    measure: str
    was: float
    becomes: float
    gain: float
    likely: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class GuardState:
    """One guard: the measure, its limit, on which side it must stay, and whether it holds.

    ``held_by`` is the share of the heads that the frames leave possible on which it holds.
    """

    name: str
    measure: str
    value: float
    limit: float
    must_be: str  # "at least" or "at most"
    holds: bool
    held_by: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Leeway:
    """How far one move may drift, alone, before a guard breaks or a tenth of the gain is lost."""

    move: str
    low: float
    high: float
    low_why: str
    high_why: str

    @property
    def is_free(self) -> bool:
        """Whether the whole range set for the move will do: then there is nothing to hold."""
        return {message_of(self.low_why), message_of(self.high_why)} == {END_OF_RANGE}

    def is_hard(self, value: float, but: Sequence[str] = ()) -> bool:
        """Whether a head's angle of ``value`` degrees has little room to where something breaks.

        ``but`` are reasons for an end that don't count.
        """
        ends = ((value - self.low, self.low_why), (self.high - value, self.high_why))
        no_break = {END_OF_RANGE, *map(message_of, but)}
        return any(room < HARD_DEG and message_of(why) not in no_break for room, why in ends)


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
    ``expressions`` are what is asked of lids, mouth and breath, by name.
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
    expressions: tuple[str, ...] = ()

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
    """The straight-on frame, the set-ups in order of strength, and where wishes collide.

    Last of the set-ups may be another way, which is none of the ``stops`` of the one way.
    """

    baseline: Setup
    baseline_measures: Mapping[str, float]
    setups: tuple[PlannedSetup, ...]
    conflicts: tuple[Conflict, ...]
    notes: tuple[str, ...] = ()

    @property
    def stops(self) -> tuple[PlannedSetup, ...]:
        """The set-ups on the one way, the gentlest first."""
        return tuple(planned for planned in self.setups if planned.name != ANOTHER)
