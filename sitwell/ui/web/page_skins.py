"""The sitter's own skin for the pictures on the pages: taken from the frames once, worn when ready.

It waits until there is a plan to look at, so that no reading and no search waits for it; until
then, and where it can't be had, the head is plain.
"""

import asyncio
import copy
from dataclasses import dataclass, field

from nicegui import background_tasks

from sitwell.brief.request import SitterBrief
from sitwell.scene.skin import Skin
from sitwell.ui.web.face_reading import paint_skin
from sitwell.ui.web.jobs import Workshop
from sitwell.ui.web.paper import Sitting
from sitwell.ui.web.planning import Model


@dataclass(slots=True)
class PageSkins:
    """Skins by the sitter's key, each with the frames it is from; None where there is none."""

    skins: dict[str, tuple[str, Skin | None]] = field(default_factory=dict)

    def dress(
        self,
        workshop: Workshop,
        key: str,
        mark: str,
        model: Model,
        asked: SitterBrief,
    ) -> None:
        """See to it that a model will wear the skin of these frames."""
        known = self.skins.get(key)
        if model.dressed or not asked.frames or workshop.running(key):
            return
        if known is not None and known[0] == mark:
            if known[1] is not None and not model.dressing:
                background_tasks.create(_wear(model, known[1]))
            return

        def done(skin: Skin | None) -> None:
            self.skins[key] = mark, skin
            if skin is not None and not model.dressing:
                background_tasks.create(_wear(model, skin))

        workshop.start(key, done, paint_skin, asked)


def turned_to(sitting: Sitting, at: int) -> Sitting:
    """The sitting as it is with another sitter in hand; to look things up, not to write on."""
    view = copy.copy(sitting)
    view.at = at
    return view


async def _wear(model: Model, skin: Skin) -> None:
    model.dressing = True
    try:
        await asyncio.to_thread(model.wear, skin)
    finally:
        model.dressing = False
