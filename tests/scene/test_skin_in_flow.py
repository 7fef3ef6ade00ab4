"""The sheets' pictures wear the sitter's skin; plain where asked, or where frames are gone."""

import pytest

from sitwell import flow
from sitwell.brief.request import brief_of
from sitwell.head.surface import build_head
from sitwell.scene.setup import Setup
from sitwell.scene.sitter import sitter_kept, sitter_of
from sitwell.search.group import GroupPlan
from sitwell.search.plan import Plan, PlannedSetup
from sitwell.sheet import set_sheet

from .sitting import SHAPE, painted, setups, take


@pytest.fixture
def sitter(tmp_path):
    head = build_head(SHAPE)
    return sitter_of(take(tmp_path, head, painted(head), setups((0.0,))))


@pytest.fixture
def printed(monkeypatch):
    """What would go onto paper: each set-up's notes and picture."""
    seen = []

    def keep(planned, plan, picture, straight_on, path, **more):
        seen.append((planned.notes, picture))
        assert planned in plan.setups
        return path

    monkeypatch.setattr(set_sheet, "write_sheet", keep)
    monkeypatch.setattr(flow, "save_plan", lambda path, *rest: path)
    return seen


def a_plan():
    planned = PlannedSetup(
        name="gentle", setup=Setup(turn_deg=15.0), measures={}, gains=(), guards=(), leeway=(),
        reasons=(), notes=("Said before.",),
    )  # fmt: skip
    return Plan(baseline=Setup(), baseline_measures={}, setups=(planned,), conflicts=(), notes=())


def write(sitter, folder, **words):
    brief = brief_of({"sitter": [{}], **words})
    made = flow.SittingPlan(
        brief=brief,
        sitters=(sitter,),
        kit=flow.kit_of(brief),
        room=flow.room_of(brief),
        found=GroupPlan.of_one(a_plan()),
    )
    flow.write_sheets(made, folder)


def test_sheets_wear_the_skin_and_say_so(sitter, printed, tmp_path):
    write(sitter, tmp_path)
    notes, picture = printed[0]
    assert notes[0] == "Said before."
    assert notes[1].startswith("The skin is from frame-0.png: what was in no frame (")
    write(sitter, tmp_path, plain_head=True)
    plain_notes, plain_picture = printed[-1]
    assert plain_notes == ("Said before.",)
    assert (picture != plain_picture).mean() > 0.05


def test_when_the_frames_are_gone_the_head_is_plain_and_the_sheet_says_why(
    sitter, printed, tmp_path
):
    sitter.reading.frames[0].path.unlink()
    write(sitter, tmp_path)
    assert printed[0][0][1].startswith("The pictures show a plain head: There is no file '")


def test_a_head_without_frames_is_plain_without_a_word(sitter, printed, tmp_path):
    write(sitter_kept(sitter.kept), tmp_path)
    assert printed[0][0] == ("Said before.",)
