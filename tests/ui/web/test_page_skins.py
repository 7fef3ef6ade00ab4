"""The sitter's own skin on the pages: taken once, worn when ready, never worn for other frames."""

import asyncio
from pathlib import Path

import pytest
from nicegui import core

from sitwell.brief.request import SitterBrief
from sitwell.ui.web import page_skins
from sitwell.ui.web.jobs import Workshop
from sitwell.ui.web.page_skins import PageSkins, turned_to
from sitwell.ui.web.paper import SitterNote, Sitting, now
from tests.waiting import soon


class FakeModel:
    def __init__(self):
        self.dressed = self.dressing = False
        self.worn = []

    def wear(self, skin):
        self.worn.append(skin)
        self.dressed = True


def run(test):
    async def whole():
        core.loop = asyncio.get_running_loop()
        await test()

    asyncio.run(whole())


def of(*frames):
    return SitterBrief(frames=tuple(map(Path, frames)))


async def settled(workshop, model=None):
    def rests():
        return all(job.over for job in workshop.jobs.values()) and (not model or model.dressed)

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

    monkeypatch.setattr(page_skins, "paint_skin", paint)
    return asked


def test_a_skin_is_taken_once_and_worn(painted):
    async def whole():
        workshop, model, kept = Workshop(inline=True), FakeModel(), PageSkins()
        for _ in range(3):
            kept.dress(workshop, "a/0/skin", "mark", model, of("f1"))
        await settled(workshop, model)
        kept.dress(workshop, "a/0/skin", "mark", model, of("f1"))
        assert model.worn == ["skin of f1"]
        assert len(painted) == 1
        workshop.close()

    run(whole)


def test_a_new_model_of_the_same_frames_wears_it_without_a_second_painting(painted):
    async def whole():
        workshop, first, second, kept = Workshop(inline=True), FakeModel(), FakeModel(), PageSkins()
        kept.dress(workshop, "k", "mark", first, of("f1"))
        await settled(workshop, first)
        kept.dress(workshop, "k", "mark", second, of("f1"))
        await settled(workshop, second)
        assert second.dressed
        assert len(painted) == 1
        workshop.close()

    run(whole)


def test_other_frames_give_another_skin(painted):
    async def whole():
        workshop, kept = Workshop(inline=True), PageSkins()
        for mark, frames in (("one", ("f1",)), ("two", ("f1", "f2"))):
            model = FakeModel()
            kept.dress(workshop, "k", mark, model, of(*frames))
            await settled(workshop, model)
            assert model.worn == [f"skin of {' '.join(frames)}"]
        workshop.close()

    run(whole)


def test_where_no_skin_can_be_had_the_head_stays_plain_and_is_not_asked_again(painted):
    async def whole():
        workshop, model, kept = Workshop(inline=True), FakeModel(), PageSkins()
        for _ in range(2):
            kept.dress(workshop, "k", "mark", model, of("dark"))
            await settled(workshop)
        assert not model.dressed
        assert len(painted) == 1
        kept.dress(workshop, "k", "other", model, of())  # no frames at all: nothing to take
        assert len(painted) == 1
        workshop.close()

    run(whole)


def test_another_sitter_is_looked_up_without_turning_the_sitting():
    sitting = Sitting(id="0" * 12, created=now(), sitters=[SitterNote(), SitterNote(label="Ben")])
    assert turned_to(sitting, 1).sitter.label == "Ben"
    assert sitting.at == 0
    assert turned_to(sitting, 1).sitters is sitting.sitters
