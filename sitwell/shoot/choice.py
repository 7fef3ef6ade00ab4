"""Which set-up of a plan the frames are held against."""

from sitwell.base.errors import ShootError
from sitwell.base.words import tr
from sitwell.search.plan import Plan, PlannedSetup

USUAL = "balanced"


def choose_setup(plan: Plan, name: str | None = None) -> PlannedSetup:
    """The set-up of that name or number; without one the balanced, or else the first."""
    names = [planned.name for planned in plan.setups]
    if not names:
        raise ShootError(tr("The plan has no set-up to hold frames against; make it again."))
    if name is None:
        return next((p for p in plan.setups if p.name == USUAL), plan.setups[0])
    for number, planned in enumerate(plan.setups, start=1):
        if name.casefold() in (planned.name.casefold(), str(number)):
            return planned
    raise ShootError(
        tr(
            "The plan has no set-up '{name}'; choose one of {known}.",
            name=name,
            known=", ".join(names),
        )
    )
