"""The sitter's likeness for the pictures on the pages: made from the frames once, shown when ready.

It waits until there is a plan to look at, so that no reading and no search waits for it; until
then, and where it can't be had, the sitter is drawn.
"""

import asyncio
import copy
from dataclasses import dataclass, field

from nicegui import background_tasks

from sitwell.brief.request import SitterBrief
from sitwell.likeness.likeness import Likeness
from sitwell.ui.web.face_reading import make_likeness
from sitwell.ui.web.jobs import Workshop
from sitwell.ui.web.paper import Sitting
from sitwell.ui.web.planning import Model


@dataclass(slots=True)
class PageLikenesses:
    """Likenesses by the sitter's key, each with the frames it is from; None where there is none."""

    likenesses: dict[str, tuple[str, Likeness | None]] = field(default_factory=dict)

    def show(
        self,
        workshop: Workshop,
        key: str,
        mark: str,
        model: Model,
        asked: SitterBrief,
    ) -> None:
        """See to it that a model will show the likeness from these frames."""
        known = self.likenesses.get(key)
        if model.has_likeness or not asked.frames or workshop.running(key):
            return
        if known is not None and known[0] == mark:
            if known[1] is not None and not model.taking_likeness:
                background_tasks.create(_take(model, known[1]))
            return

        def done(likeness: Likeness | None) -> None:
            self.likenesses[key] = mark, likeness
            if likeness is not None and not model.taking_likeness:
                background_tasks.create(_take(model, likeness))

        workshop.start(key, done, make_likeness, asked)


def turned_to(sitting: Sitting, at: int) -> Sitting:
    """The sitting as it is with another sitter in hand; to look things up, not to write on."""
    view = copy.copy(sitting)
    view.at = at
    return view


async def _take(model: Model, likeness: Likeness) -> None:
    model.taking_likeness = True
    try:
        await asyncio.to_thread(model.take_likeness, likeness)
    finally:
        model.taking_likeness = False
