"""Sheets show the sitter as their frames have them; drawn where asked, or where those are gone."""

import numpy as np
import pytest

from builders.pictures.plain_frames import painted
from sitwell import flow
from sitwell.brief.request import brief_of
from sitwell.head.surface import build_head
from sitwell.likeness.likeness import likeness_of
from sitwell.likeness.portrayal import Portrayal
from sitwell.likeness.vector_drawing import Drawing
from sitwell.scene.setup import Setup
from sitwell.scene.sitter import sitter_kept, sitter_of
from sitwell.search.group import GroupPlan, GroupSetup, Place
from sitwell.search.moves import POSE_MOVES
from sitwell.search.plan import Plan, PlannedSetup
from sitwell.sheet import set_sheet
from tests.likeness.sitting import SHAPE, setups, take


@pytest.fixture
def sitter(tmp_path):
    head = build_head(SHAPE)
    return sitter_of(take(tmp_path, head, painted(head), setups((0.0,))))


@pytest.fixture
def printed(monkeypatch):
    """What would go onto paper: each set-up's notes, picture and caption."""
    seen = []

    def keep(planned, plan, picture, path, *, caption, **more):
        seen.append((planned.notes, picture, caption))
        assert planned in plan.setups
        return path

    monkeypatch.setattr(set_sheet, "write_sheet", keep)
    monkeypatch.setattr(flow, "save_plan", lambda path, *rest: path)
    return seen


def a_plan():
    planned = PlannedSetup(
        name="gentle", setup=Setup(turn_deg=5.0), measures={}, gains=(), guards=(), leeway=(),
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


def test_sheets_show_the_likeness_and_say_what_it_is(sitter, printed, tmp_path):
    write(sitter, tmp_path)
    notes, picture, caption = printed[0]
    assert notes == ("Said before.",)
    assert isinstance(picture, np.ndarray)
    assert caption.startswith("Made from your frames; it is no photograph.")
    write(sitter, tmp_path, plain_head=True)
    _, drawn, caption = printed[-1]
    assert isinstance(drawn, Drawing)
    assert caption.startswith("Drawn from the head as measured")


def test_a_sheet_for_the_sitters_eyes_is_drawn(sitter, printed, tmp_path):
    write(sitter, tmp_path, discreet=True)
    pictures = [picture for _, picture, _ in printed]
    assert [isinstance(picture, Drawing) for picture in pictures] == [False, False, True, True]


def test_when_the_frames_are_gone_the_head_is_drawn_and_the_sheet_says_why(
    sitter, printed, tmp_path
):
    sitter.reading.frames[0].path.unlink()
    write(sitter, tmp_path)
    notes, picture, _ = printed[0]
    assert isinstance(picture, Drawing)
    assert notes[1].startswith(
        "There is no picture of the sitter, since the frames can't be opened"
    )


def test_a_head_without_frames_is_drawn_without_a_word(sitter, printed, tmp_path):
    write(sitter_kept(sitter.kept), tmp_path)
    notes, picture, _ = printed[0]
    assert notes == ("Said before.",)
    assert isinstance(picture, Drawing)


def test_a_group_is_shown_from_frames_where_they_are_there_and_else_drawn(sitter):
    likeness = likeness_of(sitter.reading, sitter.head)
    shown, unseen = Portrayal(sitter.head, likeness), Portrayal(sitter.head)
    places = (Place(x_mm=-200.0, y_mm=0.0, z_mm=0.0), Place(x_mm=200.0, y_mm=0.0, z_mm=0.0))
    still = dict.fromkeys(POSE_MOVES, 0.0)
    group = GroupSetup(
        shared=Setup(distance_mm=2800.0), places=places, poses=(still, still), lying=True
    )
    both = set_sheet.draw_group([shown, shown], group, 120)
    assert both.caption == "Made from your frames; it is no photograph."
    some = set_sheet.draw_group([shown, unseen], group, 120)
    assert not some.is_drawn
    assert some.caption.startswith("Made from your frames where they show enough, else drawn")
    half = some.pixels().shape[1] // 2
    mine = [made.pixels()[:, : half // 2].astype(int) for made in (both, some)]
    assert np.abs(mine[0] - mine[1]).max() < 8  # but for the ground, a mean of all shown
    for portrait in (
        set_sheet.draw_group([unseen, unseen], group, 120),
        set_sheet.draw_group([shown, shown], group, 120, drawn=True),
    ):
        assert portrait.is_drawn
