"""Lids, mouth and breath as moves: whose wish asks for them, what they change on this head.

No search moves them: they are words, said after the pose and before the shutter (common practice,
no source). Where the head can make the expression, what it changes is measured in the strong
set-up and told as a share; where it can't, as of a scan or a breath, the word stands alone.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from sitwell.base.units import plain_number
from sitwell.base.words import tr
from sitwell.brief.wishes import Wish
from sitwell.scene.setup import Setup
from sitwell.search import sentences as say
from sitwell.search.group_search_space import GroupSitter

SMALLEST_TOLD = 1.0  # per cent; less is no change


@dataclass(frozen=True, slots=True, kw_only=True)
class Expression:
    """One move of the face: its name, whose wish asks for it, and what tells of it.

    ``sliders`` are how the head makes it (or, for a mouth at rest, what it keeps from), and
    ``told`` is what is said of the share by which ``measure`` changes.
    """

    name: str
    feature: str
    sliders: Mapping[str, float] = field(default_factory=dict)
    measure: str = ""
    told: str = ""


def _both(name: str, amount: float) -> dict[str, float]:
    return {f"{name}_own_left": amount, f"{name}_own_right": amount}


# In the order in which they are said. Amounts are design choices: a touch, and half a smile.
EXPRESSIONS = (
    Expression(
        name="lower-lids",
        feature="lively-eyes",
        sliders=_both("eye_squint", 0.3),
        measure="eye_size",
        told=say.NOTE_LIDS,
    ),
    Expression(name="half-smile", feature="smile"),
    Expression(
        name="mouth-at-rest",
        feature="nose-width",
        sliders=_both("mouth_smile", 0.5),
        measure="nose_width",
        told=say.NOTE_MOUTH,
    ),
    Expression(name="slow-breath", feature="lively-eyes"),
)


def expressions_for(wishes: Sequence[Wish]) -> tuple[Expression, ...]:
    """What the wishes ask of lids, mouth and breath; one thing of the mouth at most."""
    asked = {
        wish.feature
        for wish in wishes
        if (wish.feature, wish.direction) != ("nose-width", "bring-out")
        and wish.direction != "leave"
    }
    if "smile" in asked:
        asked.discard("nose-width")
    return tuple(one for one in EXPRESSIONS if one.feature in asked)


def expression_notes(
    sitter: GroupSitter, names: Sequence[str], setup: Setup, asked: Sequence[Expression]
) -> tuple[str, ...]:
    """What each changes on this head in a set-up; nothing for what the head can't make."""
    notes = []
    for one in asked:
        moved = sitter.expressive(one.sliders) if one.sliders else None
        if moved is None:
            continue
        at = list(names).index(one.measure)
        was, becomes = (float(e.evaluate(setup)[at]) for e in (sitter.evaluator, moved))
        share = 100.0 * abs(becomes / was - 1.0) if was else 0.0
        if share >= SMALLEST_TOLD:
            notes.append(tr(one.told, share=plain_number(share, 0)))
    return tuple(notes)
