"""Wishes: what a sitter asks for, in their own name; the tool never adds one."""

from dataclasses import dataclass

from sitwell.base.errors import WishError
from sitwell.base.words import tr

FEATURES = (
    "forehead",
    "thinning-hair",
    "nose-length",
    "nose-bend",
    "nose-width",
    "ears",
    "eye-balance",
    "eye-size",
    "lively-eyes",
    "jaw",
    "face-width",
    "neck",
    "glasses",
    "skin",
    "smile",
)
DIRECTIONS = ("soften", "bring-out", "leave")
WEIGHTS = (1, 2, 3)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """One wish: a feature, a direction (soften, bring-out, leave) and a weight of 1 to 3."""

    feature: str
    direction: str = "soften"
    weight: int = 2

    def __post_init__(self) -> None:
        """Refuse what no sitter could have meant, and say what can be asked."""
        _check("feature", self.feature, FEATURES)
        _check("direction", self.direction, DIRECTIONS)
        _check("weight", self.weight, WEIGHTS)


def parse_wish(text: str) -> Wish:
    """A wish written ``FEATURE[:DIRECTION[:WEIGHT]]``, as on the command line."""
    parts = text.strip().split(":")
    if len(parts) > 3:
        raise WishError(
            tr(
                "The wish '{text}' has too many parts; write FEATURE:DIRECTION:WEIGHT.",
                text=text,
            )
        )
    direction = parts[1] if len(parts) > 1 and parts[1] else "soften"
    weight = parts[2] if len(parts) > 2 else "2"
    if weight not in {str(w) for w in WEIGHTS}:
        raise WishError(
            tr(
                "The weight '{weight}' in the wish '{text}' is not 1, 2 or 3; give one.",
                weight=weight,
                text=text,
            )
        )
    return Wish(feature=parts[0], direction=direction, weight=int(weight))


def _check(what: str, value: object, allowed: tuple[object, ...]) -> None:
    if value not in allowed:
        choices = ", ".join(str(a) for a in allowed)
        raise WishError(
            tr(
                "The wish {what} '{value}' is not known; choose one of {choices}.",
                what=what,
                value=value,
                choices=choices,
            )
        )
