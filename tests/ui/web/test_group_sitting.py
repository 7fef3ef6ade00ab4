"""Several sitters in one sitting: what is everybody's stays in step, and is kept."""

import json

import numpy as np
import pytest

from sitwell.base.codec import to_plain
from sitwell.base.errors import WebError
from sitwell.brief.comfort import EYES_BELOW_CROWN_MM, SEATED_EYES_MM, STANDING_EYES_MM
from sitwell.brief.wishes import HeightWish, parse_wish
from sitwell.head.level import head_as_dict
from sitwell.head.surface import build_head
from sitwell.search.group_search_space import GroupSitter
from sitwell.search.planner import make_group_plan
from sitwell.ui.web import brief, group_sitting
from sitwell.ui.web.documents import Shelf
from sitwell.ui.web.jobs import Workshop
from sitwell.ui.web.page_likenesses import turned_to
from sitwell.ui.web.paper import SitterNote, Sitting, now
from sitwell.ui.web.server_state import ServerState
from tests.search.conftest import StandInEvaluator


@pytest.fixture(scope="module")
def plan():
    sitters = [
        GroupSitter(label=name, evaluator=StandInEvaluator(), wishes=(parse_wish(wish),))
        for name, wish in (("Mara", "ears"), ("Ben", "forehead"))
    ]
    names = sitters[0].evaluator.names
    return make_group_plan(sitters, evaluations=60, height=HeightWish(), measure_names=names)


@pytest.fixture(scope="module")
def head():
    made = build_head()
    return made, head_as_dict(made, np.eye(3))


@pytest.fixture
def kept(tmp_path, plan, head):
    """A house with a sitting of two whose group plan lies beside the papers."""
    server = ServerState(shelf=Shelf(tmp_path), workshop=Workshop(inline=True))
    sitting = Sitting(
        id="a" * 12,
        created=now(),
        sitters=[SitterNote(label=name, consent_at=now()) for name in ("Mara", "Ben")],
    )
    server.shelf.place(sitting.id).mkdir()
    marks = []
    for index, part in enumerate(plan.parts):
        view = turned_to(sitting, index)
        marks.append(server.brief_mark(view))
        server.keep_plan(view, part, head[1], marks[-1])
    mark = group_sitting._mark(marks, sitting)
    paper = server.shelf.place(sitting.id) / group_sitting.PAPER
    paper.write_text(json.dumps(to_plain(group_sitting._paper(plan, mark))), encoding="utf-8")
    group_sitting.open_group(server, sitting, plan.setups[-1].name)
    return server, sitting, plan.setups[-1].name


def moved(server, sitting, name, **changes):
    """What a hand does: note the change for the sitter in hand, and share it."""
    setup = server.in_hand(sitting).with_changes(**changes)
    sitting.sitter.moved.setdefault(name, {}).update(changes)
    group_sitting.share(server, sitting, name, setup)


def owns(server, sitting):
    return [server.in_hand(turned_to(sitting, index)) for index in range(2)]


def test_the_plan_is_found_again_from_the_papers(kept, plan):
    server, sitting, _ = kept
    found = group_sitting.group_plan(server, sitting)
    assert found.labels == ("Mara", "Ben")
    assert [one.name for one in found.setups] == [one.name for one in plan.setups]
    assert found.setups[-1].setup.places == plan.setups[-1].setup.places
    assert found.setups[-1].planned[1].setup == plan.parts[1].setups[-1].setup
    assert not group_sitting.is_stale(server, sitting)


def test_a_changed_wish_or_height_makes_it_stale(kept):
    server, sitting, _ = kept
    group_sitting.group_plan(server, sitting)
    sitting.sitters[1].height_mm = 1700.0
    assert group_sitting.is_stale(server, sitting)


def test_a_key_moved_for_one_moves_for_both(kept):
    server, sitting, name = kept
    before = owns(server, sitting)
    moved(server, sitting, name, key_azimuth_deg=before[0].key_azimuth_deg + 12.0)
    after = owns(server, sitting)
    group = group_sitting.in_hand(server, sitting, name)
    assert after[0].key_azimuth_deg == pytest.approx(before[0].key_azimuth_deg + 12.0)
    # one and the same lamp in the room, seen from two places
    for index, own in enumerate(after):
        assert own.key_azimuth_deg == pytest.approx(group.own(index).key_azimuth_deg)
        assert own.key_distance_mm == pytest.approx(group.own(index).key_distance_mm)
    assert after[1].key_azimuth_deg > before[1].key_azimuth_deg + 5.0
    assert after[1].turn_deg == before[1].turn_deg


def test_a_turn_is_one_s_own(kept):
    server, sitting, name = kept
    before = owns(server, sitting)
    moved(server, sitting, name, turn_deg=before[0].turn_deg + 5.0)
    after = owns(server, sitting)
    assert after[0].turn_deg == before[0].turn_deg + 5.0
    assert after[1].turn_deg == before[1].turn_deg
    assert after[1].key_azimuth_deg == pytest.approx(before[1].key_azimuth_deg)


def test_moves_of_both_add_up(kept):
    server, sitting, name = kept
    moved(server, sitting, name, f_number=8.0)
    sitting.at = 1
    moved(server, sitting, name, chin_deg=2.0, fill_ratio=2.0)
    first, second = owns(server, sitting)
    assert first.f_number == second.f_number == 8.0
    assert second.chin_deg == 2.0
    group = group_sitting.in_hand(server, sitting, name)
    assert group.poses[1]["chin_deg"] == 2.0
    assert first.fill_ratio == pytest.approx(group.own(0).fill_ratio)


def test_a_camera_that_can_t_stand_there_changes_nobody_else(kept):
    server, sitting, name = kept
    before = owns(server, sitting)[1]
    setup = owns(server, sitting)[0].with_changes(distance_mm=160.0, camera_height_mm=0.0)
    group_sitting.share(server, sitting, name, setup)
    assert owns(server, sitting)[1] == before


def test_what_is_held_is_each_one_s_and_everybody_s(kept):
    server, sitting, name = kept
    sitting.sitters[0].locked = ["turn_deg", "f_number"]
    sitting.sitters[1].locked = ["chin_deg"]
    own, shared = group_sitting.held_in(server, sitting)
    first, second = owns(server, sitting)
    assert own == {0: {"turn_deg": first.turn_deg}, 1: {"chin_deg": second.chin_deg}}
    assert shared == {"f_number": first.f_number}
    assert name


def test_planning_one_alone_drops_what_was_everybody_s(kept):
    server, sitting, _ = kept
    group_sitting.group_plan(server, sitting)
    group_sitting.drop_group(server, sitting)
    assert group_sitting.group_plan(server, sitting) is None
    assert not (server.shelf.place(sitting.id) / group_sitting.PAPER).exists()


def test_taking_the_yes_back_erases_it(kept):
    server, sitting, _ = kept
    group_sitting.group_plan(server, sitting)
    place = server.shelf.place(sitting.id)
    (place / "sort-0.sqlite").write_bytes(b"readings of everybody")
    server.unmeasure(sitting, 0)
    assert group_sitting.group_plan(server, sitting) is None
    # the other one's own plan rests on their own yes
    assert sorted(path.name for path in place.iterdir()) == ["plan-1.json"]
    assert server.plan(turned_to(sitting, 1)) is not None


@pytest.mark.parametrize("text", ["", "{}", "[1]", '{"labels": ["A"]}'])
def test_a_damaged_paper_is_let_go(kept, text):
    server, sitting, _ = kept
    paper = server.shelf.place(sitting.id) / group_sitting.PAPER
    paper.write_text(text, encoding="utf-8")
    assert group_sitting.group_plan(server, sitting) is None
    assert not paper.exists()


def test_a_sheet_without_heads_is_refused(kept):
    server, sitting, name = kept
    with pytest.raises(WebError, match="There is no such view yet; open the plan again"):
        group_sitting.sheet_of_all(server, sitting, name)


def test_one_sitter_has_no_group(kept):
    server, sitting, _ = kept
    sitting.sitters.pop()
    assert group_sitting.group_plan(server, sitting) is None


def test_a_height_sets_the_eyes_unless_they_sit():
    sitter = SitterNote(height_mm=1700.0)
    assert brief.comfort_of(sitter).eyes_above_floor_mm == 1700.0 - EYES_BELOW_CROWN_MM
    sitter.limits.append("wheelchair")
    assert brief.comfort_of(sitter).eyes_above_floor_mm == SEATED_EYES_MM
    assert brief.comfort_of(SitterNote()).eyes_above_floor_mm == STANDING_EYES_MM
