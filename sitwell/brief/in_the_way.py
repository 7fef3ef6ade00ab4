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
    return _known(names, (*THINGS, NOTHING))


def told_and_denied(
    names: Sequence[str], without: Sequence[str]
) -> tuple[frozenset[str], frozenset[str]]:
    """What the photographer says is in the way, and is not: everything, for NOTHING alone."""
    told = check_in_the_way(names)
    denied = check_without(without, told)
    return told, frozenset(THINGS) if NOTHING in names else denied


def check_without(names: Sequence[str], told: frozenset[str]) -> frozenset[str]:
    """The things that the photographer denies, whatever pictures seem to show; UsageError for one
    that is not known or was ``told`` to be there.
    """
    denied = _known(names, THINGS)
    for name in sorted(denied & told):
        raise UsageError(
            tr(
                "'{name}' is told to be in the way and not to be there; leave out one of the two.",
                name=name,
            )
        )
    return denied


def _known(names: Sequence[str], known: Sequence[str]) -> frozenset[str]:
    for name in names:
        if name not in THINGS:
            raise UsageError(
                tr(
                    "'{name}' is nothing Sitwell knows to be in the way; choose from {known}.",
                    name=name,
                    known=", ".join(known),
                )
            )
    return frozenset(names)
