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
# Told alone, it says that whatever the picture seems to show in the way is not there.
NOTHING = "nothing"


def check_in_the_way(names: Sequence[str]) -> frozenset[str]:
    """The things named, none for NOTHING alone; UsageError for one that is not known."""
    if NOTHING in names:
        if len(set(names)) > 1:
            raise UsageError(
                tr("'nothing' can't be in the way beside something; give it alone or leave it out.")
            )
        return frozenset()
    for name in names:
        if name not in THINGS:
            raise UsageError(
                tr(
                    "'{name}' is nothing Sitwell knows to be in the way; choose from {known}.",
                    name=name,
                    known=", ".join((*THINGS, NOTHING)),
                )
            )
    return frozenset(names)
