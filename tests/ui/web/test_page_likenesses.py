"""The sitter's own skin on the pages: taken once, worn when ready, never worn for other frames."""

import asyncio
from pathlib import Path

import pytest
from nicegui import core

from sitwell.brief.request import SitterBrief
from sitwell.ui.web import page_likenesses
from sitwell.ui.web.jobs import Workshop
from sitwell.ui.web.page_likenesses import PageLikenesses, turned_to
from sitwell.ui.web.paper import SitterNote, Sitting, now
from tests.waiting import soon


class FakeModel:
    def __init__(self):
        self.has_likeness = self.taking_likeness = False
        self.worn = []

    def take_likeness(self, likeness):
        self.worn.append(likeness)
        self.has_likeness = True


def run(test):
    async def whole():
        core.loop = asyncio.get_running_loop()
        await test()

    asyncio.run(whole())


def of(*frames):
    return SitterBrief(frames=tuple(map(Path, frames)))


async def settled(workshop, model=None):
    def rests():
        return all(job.over for job in workshop.jobs.values()) and (not model or model.has_likeness)

    await asyncio.sleep(0)
    await soon(rests)


@pytest.fixture
def painted(monkeypatch):
    """Every painting that was asked for; gives a skin that is named after its frames."""
    asked = []

    def paint(sitter, tell, stop):
        frames = " ".join(map(str, sitter.frames))
        asked.append(frames)
        return None if frames == "dark" else f"skin of {frames}"

    monkeypatch.setattr(page_likenesses, "make_likeness", paint)
    return asked


def test_a_skin_is_taken_once_and_worn(painted):
    async def whole():
        workshop, model, kept = Workshop(inline=True), FakeModel(), PageLikenesses()
        for _ in range(3):
            kept.show(workshop, "a/0/skin", "mark", model, of("f1"))
        await settled(workshop, model)
        kept.show(workshop, "a/0/skin", "mark", model, of("f1"))
        assert model.worn == ["skin of f1"]
        assert len(painted) == 1
        workshop.close()

    run(whole)


def test_a_new_model_of_the_same_frames_wears_it_without_a_second_painting(painted):
    async def whole():
        workshop, first, second, kept = (
            Workshop(inline=True),
            FakeModel(),
            FakeModel(),
            PageLikenesses(),
        )
        kept.show(workshop, "k", "mark", first, of("f1"))
        await settled(workshop, first)
        kept.show(workshop, "k", "mark", second, of("f1"))
        await settled(workshop, second)
        assert second.has_likeness
        assert len(painted) == 1
        workshop.close()

    run(whole)


def test_other_frames_give_another_skin(painted):
    async def whole():
        workshop, kept = Workshop(inline=True), PageLikenesses()
        for mark, frames in (("one", ("f1",)), ("two", ("f1", "f2"))):
            model = FakeModel()
            kept.show(workshop, "k", mark, model, of(*frames))
            await settled(workshop, model)
            assert model.worn == [f"skin of {' '.join(frames)}"]
        workshop.close()

    run(whole)


def test_where_no_skin_can_be_had_the_head_stays_plain_and_is_not_asked_again(painted):
    async def whole():
        workshop, model, kept = Workshop(inline=True), FakeModel(), PageLikenesses()
        for _ in range(2):
            kept.show(workshop, "k", "mark", model, of("dark"))
            await settled(workshop)
        assert not model.has_likeness
        assert len(painted) == 1
        kept.show(workshop, "k", "other", model, of())  # no frames at all: nothing to take
        assert len(painted) == 1
        workshop.close()

    run(whole)


def test_another_sitter_is_looked_up_without_turning_the_sitting():
    sitting = Sitting(id="0" * 12, created=now(), sitters=[SitterNote(), SitterNote(label="Ben")])
    assert turned_to(sitting, 1).sitter.label == "Ben"
    assert sitting.at == 0
    assert turned_to(sitting, 1).sitters is sitting.sitters
