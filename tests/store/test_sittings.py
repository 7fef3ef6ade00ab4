"""A yes written down, a sitting kept as far as it goes, and what brings it back."""

from datetime import date, timedelta

import numpy as np
import pytest

from sitwell.base.errors import ConsentError, StoreError
from sitwell.brief.wishes import Wish
from sitwell.head.level import head_as_dict, head_from_dict
from sitwell.head.surface import build_head
from sitwell.scene.setup import Setup
from sitwell.store import entries
from sitwell.store.consent import DEFAULT_TERM_DAYS
from sitwell.store.sittings import (
    Made,
    Yes,
    head_record,
    head_values,
    keep_sitting,
    note_used,
    record_yes,
)

HEAD = head_as_dict(build_head({"nose_length": 0.4}), np.eye(3))
WISHES = (Wish(feature="ears"),)


def test_a_label_and_its_first_yes_go_in_together_or_not_at_all(records):
    too_long = Yes(until=date.today() + timedelta(days=4000))
    with pytest.raises(ConsentError, match="is longer than 3 years"):
        record_yes(records, "M 14", too_long)
    assert records.known("M 14") is None
    sitter = record_yes(records, "M 14", Yes())
    assert records.known(" m  14 ") == sitter
    assert records.agreed(sitter) == {entries.MEASUREMENTS}
    assert records.keep_until(sitter) == date.today() + timedelta(days=DEFAULT_TERM_DAYS)


def test_the_notice_that_is_kept_is_the_one_that_is_shown(records):
    yes = Yes(wishes=True, until=date.today() + timedelta(days=30))
    sitter = record_yes(records, "M 14", yes)
    given = records.all(entries.Consent, sitter)
    assert {consent.purpose for consent in given} == {entries.MEASUREMENTS, entries.WISHES}
    assert {consent.notice for consent in given} == {yes.notice()}


def test_a_child_says_no_yes_of_their_own(records):
    record_yes(records, "K 2", Yes(guardian="A. Invented"))
    assert records.sitter("K 2").child
    with pytest.raises(ConsentError, match="'K 2' is a child; name the guardian who said yes"):
        record_yes(records, "K 2", Yes())


def test_nothing_is_kept_without_a_yes(records, plan):
    sitter = records.add_sitter("M 14")
    with pytest.raises(ConsentError, match="'M 14' has not said yes yet; ask with: sitwell con"):
        keep_sitting(records, sitter, Made(head=HEAD, plan=plan))
    assert records.all(entries.Sitting) == records.all(entries.KeptHead) == ()


@pytest.mark.parametrize("wishes", [False, True])
def test_wishes_and_the_plan_that_tells_them_need_their_own_yes(records, plan, wishes):
    sitter = record_yes(records, "M 14", Yes(wishes=wishes))
    made = Made(wishes=WISHES, head=HEAD, plan=plan, used=("one", Setup(turn_deg=12.0)))
    parts = keep_sitting(records, sitter, made)
    asked = ("the wishes", "the plan") if wishes else ()
    assert set(parts) == {"the head", "the set-up in hand", *asked}
    assert bool(records.all(entries.KeptPlan)) == bool(records.all(entries.KeptWishes)) == wishes


def test_who_comes_back_starts_from_their_head_and_from_what_worked(records, plan):
    sitter = record_yes(records, "M 14", Yes(wishes=True))
    keep_sitting(records, sitter, Made(wishes=WISHES, head=HEAD, plan=plan))
    note_used(records, sitter, "one", None, worked=True, note="she laughed")
    note_used(records, sitter, "by hand", Setup(turn_deg=3.0), worked=False, note="")
    back = records.returning(sitter)
    assert back.yes.purpose == entries.MEASUREMENTS
    assert back.wishes.wishes == WISHES
    assert back.plan.plan == plan
    assert [(used.name, used.setup.turn_deg, used.note) for used in back.worked] == [
        ("one", 12.0, "she laughed")
    ]
    assert head_values(back.head) == HEAD
    rebuilt = head_from_dict(head_values(back.head))
    np.testing.assert_allclose(rebuilt.vertices_mm, head_from_dict(HEAD).vertices_mm)


def test_a_set_up_that_nobody_planned_is_not_noted(records, plan):
    sitter = record_yes(records, "M 14", Yes(wishes=True))
    with pytest.raises(StoreError, match="No sitting of 'M 14' is in the records; keep one first"):
        note_used(records, sitter, "one", None, worked=True, note="")
    keep_sitting(records, sitter, Made(head=HEAD))
    with pytest.raises(StoreError, match="the latest plan of 'M 14' is not there; name one of a"):
        note_used(records, sitter, "one", None, worked=True, note="")
    keep_sitting(records, sitter, Made(head=HEAD, plan=plan))
    with pytest.raises(StoreError, match="the latest plan of 'M 14' holds one; name one of a plan"):
        note_used(records, sitter, "soft", None, worked=True, note="")


@pytest.mark.parametrize("damaged", [{}, {"shape": 3}, {**HEAD, "neutral": [["x"]]}])
def test_a_damaged_head_is_one_sentence(damaged):
    with pytest.raises(StoreError, match=r"The head can't be kept .*; read the frames again"):
        head_record(damaged, "a", "b")


def test_a_record_without_the_head_is_one_sentence():
    bare = entries.KeptHead(sitter_id="a", sitting_id="b", shape={})
    with pytest.raises(StoreError, match="The kept head lacks 'neutral'; start from test frames"):
        head_values(bare)
