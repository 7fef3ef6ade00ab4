"""Those who stand beside the sitter in hand: where they are, and how they fare."""

import asyncio

import numpy as np
from numpy.typing import NDArray

from sitwell.base.rotations import rotation_from_pose
from sitwell.base.words import spoken
from sitwell.scene.setup import Setup
from sitwell.search.group import GroupPlan, GroupSetup
from sitwell.sheet.group_drawing import heads_from_above
from sitwell.ui.web import brief, group_sitting, names
from sitwell.ui.web.frame import Desk
from sitwell.ui.web.page_likenesses import turned_to
from sitwell.ui.web.parts import attributed, box, words
from sitwell.ui.web.planning import Judge
from sitwell.ui.web.wording import preferences, t

Points = NDArray[np.float64]


def heads_beside(group: GroupSetup, at: int) -> tuple[Points, ...]:
    """Shoulders, heads and noses (N, 3) of all but one sitter, in that one's studio frame."""
    turned = rotation_from_pose(group.bearing_deg(at), 0.0, 0.0)
    here = group.places[at].eyes_mm
    others = (i for i in range(len(group.places)) if i != at)
    return tuple((part - here) @ turned for i in others for part in heads_from_above(group, i))


def heads_together(group: GroupSetup) -> tuple[Points, ...]:
    """Everybody's shoulders, heads and noses (N, 3), from the middle of all eyes."""
    farthest_first = sorted(range(len(group.places)), key=lambda i: group.places[i].z_mm)
    return tuple(part for i in farthest_first for part in heads_from_above(group, i))


class Others:
    """The others of a group while one of them is in hand."""

    def __init__(self, desk: Desk, labels: list[str], group: GroupPlan, name: str) -> None:
        self.desk, self.labels, self.group, self.name = desk, labels, group, name
        self.judges: dict[int, Judge] = {}
        self.at, self.language = desk.sitting.at, preferences().language
        self.indices = [i for i in range(len(labels)) if i != self.at]

    def draw(self) -> None:
        """A line for each of them."""
        with box("div", "tell others"):
            words("h3", t("The others, under this camera and key"))
            self.lines = {
                i: attributed(words("p", self.labels[i], "sum"), role="status")
                for i in self.indices
            }

    def share(self, setup: Setup) -> None:
        """Camera and light are everybody's: the others get them as they stand in hand."""
        group_sitting.share(self.desk.server, self.desk.sitting, self.name, setup)

    def outlines(self) -> tuple[Points, ...]:
        """Their shoulders, heads and noses (N, 3) in the studio frame of the sitter in hand."""
        planned = next(p for p in self.group.setups if p.name == self.name)
        return heads_beside(planned.setup, self.at)

    async def judge(self) -> dict[int, str]:
        """For each of them, what does not hold now."""
        with spoken(self.language):
            return {index: await asyncio.to_thread(self._told, index) for index in self.indices}

    def show(self, told: dict[int, str]) -> None:
        """Say how they fare."""
        for index, text in told.items():
            self.lines[index].set_text(f"{self.labels[index]}: {text}")

    def _told(self, index: int) -> str:
        server, view = self.desk.server, turned_to(self.desk.sitting, index)
        model, plan, setup = server.model(view), server.plan(view), server.in_hand(view)
        if model is None or plan is None or setup is None:
            return t("can’t be told here")
        if index not in self.judges:
            self.judges[index] = model.judge_for(*brief.judge_parts(view), plan)
        judged = model.judge(self.judges[index], setup)
        lost = [guard for guard in judged.guards if not guard.holds]
        against = [gain for gain in judged.gains if names.is_against(gain)]
        parts = (
            [t("not held: {guards}", guards=", ".join(map(names.guard_words, lost)))]
            if lost
            else []
        )
        parts += [
            t("{wish}: {told}", wish=names.wish_words(gain.wish), told=names.notice_words(gain))
            for gain in against
        ]
        return "; ".join(parts) or t("all {count} hold", count=len(judged.guards))
