"""The sheets' pictures wear the sitter's skin; plain where asked, or where frames are gone."""

import pytest

from sitwell import flow
from sitwell.head.level import head_as_dict
from sitwell.head.reading import Reading
from sitwell.head.surface import build_head
from sitwell.scene.setup import Setup
from sitwell.search.plan import Plan, PlannedSetup

from .sitting import SHAPE, painted, setups, take


@pytest.fixture
def sitter(tmp_path):
    head = build_head(SHAPE)
    return flow.sitter_of(take(tmp_path, head, painted(head), setups((0.0,))))


@pytest.fixture
def printed(monkeypatch):
    """What would go onto paper: each set-up's notes and picture."""
    seen = []

    def keep(planned, plan, picture, straight_on, path, **more):
        seen.append((planned.notes, picture))
        assert planned in plan.setups
        return path

    monkeypatch.setattr(flow, "write_sheet", keep)
    monkeypatch.setattr(flow, "save_plan", lambda path, *rest: path)
    return seen


def a_plan():
    planned = PlannedSetup(
        name="gentle", setup=Setup(turn_deg=15.0), measures={}, gains=(), guards=(), leeway=(),
        reasons=(), notes=("Said before.",),
    )  # fmt: skip
    return Plan(baseline=Setup(), baseline_measures={}, setups=(planned,), conflicts=(), notes=())


def test_sheets_wear_the_skin_and_say_so(sitter, printed, tmp_path):
    flow.write_plan(a_plan(), sitter, tmp_path)
    notes, picture = printed[0]
    assert notes[0] == "Said before."
    assert notes[1].startswith("The skin is from frame-0.png: what was in no frame (")
    flow.write_plan(a_plan(), sitter, tmp_path, plain_head=True)
    plain_notes, plain_picture = printed[-1]
    assert plain_notes == ("Said before.",)
    assert (picture != plain_picture).mean() > 0.05


def test_when_the_frames_are_gone_the_head_is_plain_and_the_sheet_says_why(
    sitter, printed, tmp_path
):
    sitter.reading.frames[0].path.unlink()
    flow.write_plan(a_plan(), sitter, tmp_path)
    assert printed[0][0][1].startswith("The pictures show a plain head: There is no file '")


def test_a_head_without_frames_is_plain_without_a_word(sitter, printed, tmp_path):
    scanned = flow.Sitter(
        reading=Reading(frames=(), fit=None, notes=()),
        head=sitter.head,
        kept=head_as_dict(sitter.head, [[1, 0, 0], [0, 1, 0], [0, 0, 1]]),
    )
    flow.write_plan(a_plan(), scanned, tmp_path)
    assert printed[0][0] == ("Said before.",)
