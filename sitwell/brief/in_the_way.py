"""What lies over a face, as the photographer names it; what it hides is then unknown."""

from collections.abc import Sequence

from sitwell.base.errors import UsageError
from sitwell.base.words import tr

THINGS = (
    "glasses",
    "hair-over-ears",
    "hair-over-brows",
    "hat",
    "beard",
    "mask",
    "hand",
)


def check_in_the_way(names: Sequence[str]) -> frozenset[str]:
    """The things named; UsageError for one that is not known."""
    for name in names:
        if name not in THINGS:
            raise UsageError(
                tr(
                    "'{name}' is nothing Sitwell knows to be in the way; choose from {known}.",
                    name=name,
                    known=", ".join(THINGS),
                )
            )
    return frozenset(names)
