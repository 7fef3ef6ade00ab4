"""Wishes: what a sitter asks for, in their own name; the tool never adds one."""

from collections.abc import Mapping
from dataclasses import dataclass

from sitwell.base.errors import UsageError, WishError
from sitwell.base.words import joined, mark, tr

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
DIRECTIONS = SOFTEN, BRING_OUT, LEAVE = ("soften", "bring-out", "leave")
# Which side of a smile is the fuller one, the sitter's own: nothing else can tell.
FULLER = {"fuller-own-left": "own_left", "fuller-own-right": "own_right"}
# A feature's directions in its own plain words; the first is what sitters usually mean.
WAYS: Mapping[str, Mapping[str, str]] = {
    "forehead": {"lower": SOFTEN, "higher": BRING_OUT},
    "thinning-hair": {"less-seen": SOFTEN, "more-seen": BRING_OUT},
    "nose-length": {"shorter": SOFTEN, "longer": BRING_OUT},
    "nose-bend": {"straighter": SOFTEN, "more-bent": BRING_OUT},
    "nose-width": {"narrower": SOFTEN, "wider": BRING_OUT},
    "ears": {"less-seen": SOFTEN, "more-seen": BRING_OUT},
    "eye-balance": {"alike": SOFTEN},
    "eye-size": {"larger": BRING_OUT, "smaller": SOFTEN},
    "lively-eyes": {"livelier": BRING_OUT},
    "jaw": {"firmer": SOFTEN, "more-seen": BRING_OUT},
    "face-width": {"narrower": SOFTEN, "wider": BRING_OUT},
    "neck": {"less-seen": SOFTEN, "more-seen": BRING_OUT},
    "glasses": {"clear": SOFTEN},
    "skin": {"smoother": SOFTEN, "more-texture": BRING_OUT},
    "smile": {way: way for way in FULLER},
}
# Both ways are usual here (common practice, no source), so the sitter is asked.
ASKED = ("face-width", "neck", "smile")
WEIGHTS = (1, 2, 3)
OR = mark(" or ")
_WEIGHTS_TYPED = {str(weight) for weight in WEIGHTS}


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """One wish: a feature, a direction and a weight of 1 to 3.

    ``direction`` is soften, bring-out or leave, of a smile also which side is the fuller one
    (``FULLER``); one of the feature's own words stands for it, and "" for what is usually meant.
    WishError where nothing is usual, or for what can't be asked.
    """

    feature: str
    direction: str = ""
    weight: int = 2

    def __post_init__(self) -> None:
        """Refuse what no sitter could have meant, and say what can be asked."""
        _check("feature", self.feature, FEATURES)
        _check("weight", self.weight, WEIGHTS)
        direction = self.direction or usual_direction(self.feature)
        if not direction:
            raise WishError(
                tr(
                    "'{feature}' may be meant either way; write {choices}.",
                    feature=self.feature,
                    choices=joined([f"{self.feature}:{way}" for way in WAYS[self.feature]], OR),
                )
            )
        ways = WAYS[self.feature]
        direction = ways.get(direction, direction)
        _check("direction", direction, tuple(dict.fromkeys((*DIRECTIONS, *ways))))
        object.__setattr__(self, "direction", direction)

    @property
    def fuller_side(self) -> str:
        """The fuller side of a smile, "own_left" or "own_right"; "" where nobody has told."""
        return FULLER.get(self.direction, "")

    def __str__(self) -> str:
        """The wish as it is typed."""
        return f"{self.feature}:{self.direction}:{self.weight}"


def usual_direction(feature: str) -> str:
    """What sitters usually mean who name a feature; "" where they must be asked."""
    return "" if feature in ASKED else next(iter(WAYS[feature].values()))


@dataclass(frozen=True, slots=True, kw_only=True)
class HeightWish:
    """What several wish about the difference in height: soften, bring-out or leave it."""

    direction: str = "leave"
    weight: int = 2

    def __str__(self) -> str:
        """The wish as it is typed."""
        return f"{self.direction}:{self.weight}"


def parse_height_wish(text: str) -> HeightWish:
    """A wish written ``DIRECTION[:WEIGHT]``; UsageError for one that is none."""
    direction, _, weight = text.partition(":")
    if direction not in DIRECTIONS or (weight or "2") not in _WEIGHTS_TYPED:
        raise UsageError(
            tr(
                "height_difference is '{text}'; write one of {known}, and a weight of 1 to 3 "
                "behind a colon if you like.",
                text=text,
                known=", ".join(DIRECTIONS),
            )
        )
    return HeightWish(direction=direction, weight=int(weight or "2"))


def parse_wish(text: str) -> Wish:
    """A wish written ``FEATURE[:DIRECTION[:WEIGHT]]``, as on the command line; see ``Wish``."""
    parts = text.strip().split(":")
    if len(parts) > 3:
        raise WishError(
            tr(
                "The wish '{text}' has too many parts; write FEATURE:DIRECTION:WEIGHT.",
                text=text,
            )
        )
    direction = parts[1] if len(parts) > 1 else ""
    weight = parts[2] if len(parts) > 2 else "2"
    if weight not in _WEIGHTS_TYPED:
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
