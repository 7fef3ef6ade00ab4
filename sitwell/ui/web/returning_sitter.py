"""A sitter who comes back: new papers that begin where the records left off."""

import dataclasses
from datetime import UTC
from typing import Any

from sitwell.base.errors import ConsentError
from sitwell.base.words import tr
from sitwell.scene.setup import Setup
from sitwell.store.entries import WISHES
from sitwell.store.records import Returning
from sitwell.store.sittings import head_values
from sitwell.ui.web.paper import Sitting


def fill_in(sitting: Sitting, back: Returning) -> dict[str, Any] | None:
    """Write onto a sitting's papers what its sitter agreed to; gives what rebuilds the head.

    The yes of the records goes on: the papers are kept as long as it stands.
    """
    if back.yes is None:
        raise ConsentError(
            tr(
                "No yes of '{label}' stands any more; ask them again on the talk page.",
                label=back.sitter.label,
            )
        )
    sitting.label = back.sitter.label
    sitting.keep_days = (back.yes.keep_until - sitting.begun_on).days
    sitting.keep_wishes = WISHES in back.agreed
    sitter = sitting.sitter
    sitter.consent_at = back.yes.at.astimezone(UTC).isoformat(timespec="seconds")
    sitter.consent_by = back.yes.by
    if back.wishes is not None:
        sitter.wishes = {wish.feature: [wish.direction, wish.weight] for wish in back.wishes.wishes}
    planned = {p.name: p.setup for p in back.plan.plan.setups} if back.plan else {}
    latest = next((used for used in back.worked if used.name in planned), None)
    if latest is not None:
        sitter.chosen = latest.name
        if moved := _moved(planned[latest.name], latest.setup):
            sitter.moved = {latest.name: moved}
    return head_values(back.head) if back.head else None


def _moved(planned: Setup, shot: Setup) -> dict[str, Any]:
    """What was moved by hand: the quantities in which the shot set-up differs."""
    was, became = dataclasses.asdict(planned), dataclasses.asdict(shot)
    return {name: value for name, value in became.items() if value != was[name]}
