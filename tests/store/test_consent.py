import dataclasses
from datetime import date, datetime, timedelta

import pytest

from sitwell.base.errors import ConsentError, SitwellError
from sitwell.store import entries
from sitwell.store.consent import DEFAULT_TERM_DAYS, default_keep_until, in_force, notice
from sitwell.store.entries import CROPS, LONGEST_TERM_YEARS, MEASUREMENTS, PURPOSES, WISHES
from sitwell.store.schema import NEEDS, TABLE_OF

KINDS_IN_SITTING = [kind for kind, table in TABLE_OF.items() if table in NEEDS]


@pytest.fixture
def told(records):
    """A sitter and a sitting, and nothing agreed to yet."""
    sitter = entries.Sitter(label="invented")
    sitting = entries.Sitting(sitter_id=sitter.id)
    records.keep(sitter, sitting)
    return sitter, sitting


def test_the_error_is_one_of_ours():
    assert issubclass(ConsentError, SitwellError)


@pytest.mark.parametrize("kind", KINDS_IN_SITTING)
def test_nothing_is_kept_before_a_yes(records, fill, told, kind, home, traces):
    sitter, sitting = told
    filled = fill(records, "somebody else")
    (sample,) = [record for record in filled.held if type(record) is kind]
    record = _of(sample, sitter, sitting)
    with pytest.raises(ConsentError, match=r"invented has no consent in force for .* record a yes"):
        records.keep(record)
    assert records.all(kind, sitter) == ()


@pytest.mark.parametrize("kind", KINDS_IN_SITTING)
def test_each_kind_needs_every_purpose_that_it_serves(records, fill, told, yes, kind):
    sitter, sitting = told
    (sample,) = [r for r in fill(records, "somebody else").held if type(r) is kind]
    record = _of(sample, sitter, sitting)
    needs = sorted(NEEDS[TABLE_OF[kind]])
    others = [purpose for purpose in PURPOSES if purpose not in needs]
    records.keep(*(yes(sitter, purpose) for purpose in others))
    for purpose in needs:
        with pytest.raises(ConsentError, match=f"no consent in force for {purpose}"):
            records.keep(record)
        records.keep(yes(sitter, purpose))
    records.keep(record)
    assert records.all(kind, sitter) == (record,)


def test_a_yes_and_what_it_covers_may_be_kept_together(records, told, yes):
    sitter, sitting = told
    head = entries.KeptHead(sitter_id=sitter.id, sitting_id=sitting.id, shape={})
    records.keep(yes(sitter, MEASUREMENTS), head)
    assert records.all(entries.KeptHead) == (head,)


def test_a_cache_needs_a_yes_too(records, told):
    with pytest.raises(ConsentError, match="no consent in force for measurements"):
        records.cache_folder(told[0])
    assert list(records.places.cache.iterdir()) == []


def test_a_yes_holds_through_its_last_day_and_not_after(yes):
    sitter = entries.Sitter(label="invented")
    given = datetime.fromisoformat("2026-03-01T10:00:00+02:00")
    consent = yes(sitter, WISHES, at=given, keep_until=date(2026, 6, 1))
    last = datetime.fromisoformat("2026-06-01T23:59:59+02:00")
    assert in_force([consent], sitter, WISHES, last)
    assert not in_force([consent], sitter, WISHES, last + timedelta(seconds=1))
    assert not in_force([consent], sitter, WISHES, given - timedelta(seconds=1))
    assert not in_force([consent], sitter, MEASUREMENTS, last)
    assert not in_force([consent], entries.Sitter(label="another"), WISHES, last)


def test_a_withdrawn_yes_does_not_hold(yes):
    sitter = entries.Sitter(label="invented")
    consent = yes(sitter, CROPS, withdrawn_at=entries.now())
    assert not in_force([consent], sitter, CROPS, entries.now())


def test_a_child_needs_a_guardian(records, yes):
    child = records.add_sitter("invented child", child=True)
    with pytest.raises(ConsentError, match="is a child, and the consent is by the sitter; record"):
        records.keep(yes(child, MEASUREMENTS))
    records.keep(yes(child, MEASUREMENTS, by="guardian", guardian="invented parent"))
    sitting = entries.Sitting(sitter_id=child.id)
    head = entries.KeptHead(sitter_id=child.id, sitting_id=sitting.id, shape={})
    records.keep(sitting, head)
    assert records.all(entries.KeptHead, child) == (head,)


def test_a_sitter_found_to_be_a_child_has_no_yes_of_their_own(yes):
    child = entries.Sitter(label="invented", child=True)
    assert not in_force([yes(child, MEASUREMENTS)], child, MEASUREMENTS, entries.now())


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"purpose": "advertising"}, "'advertising' is not known; ask for measurements, wishes"),
        ({"by": "friend"}, "by 'friend' is not known; say sitter or guardian"),
        ({"by": "guardian"}, "guardian's name is empty; write down who said yes"),
        ({"notice": " "}, "notice is empty; record the words that were shown"),
        ({"keep_until": date(2020, 1, 1)}, "until 2020-01-01 ends before the yes of"),
        ({"keep_until": date(2099, 1, 1)}, "until 2099-01-01 is longer than 3 years; give an"),
    ],
)
def test_a_yes_that_says_too_little_is_refused(yes, changes, sentence):
    values = {"purpose": MEASUREMENTS} | changes
    purpose = values.pop("purpose")
    with pytest.raises(ConsentError, match=sentence):
        yes(entries.Sitter(label="invented"), purpose, **values)


def test_the_default_term_is_within_the_longest():
    day = date(2026, 11, 25)
    assert day < default_keep_until(day) <= entries.add_years(day, LONGEST_TERM_YEARS)
    assert (default_keep_until(day) - day).days == DEFAULT_TERM_DAYS


def test_the_notice_says_what_how_long_and_that_no_is_fine():
    words = notice([MEASUREMENTS, WISHES], date(2027, 3, 4))
    for part in (
        "measures your face",
        "on this computer",
        "until 4 March 2027",
        "measurements of the face",
        "may say something about your health",
        "You can say no",
        "deleted, at any time",
    ):
        assert part in words
    assert "cut from" not in words
    # It would be untrue in places: a face's measurements can count as biometric data.
    assert "biometric" not in words


def test_the_notice_speaks_of_guardians_and_of_health_only_where_asked():
    assert "guardian" in notice([MEASUREMENTS], date(2027, 3, 4), child=True)
    plain = notice([MEASUREMENTS], date(2027, 3, 4))
    assert "guardian" not in plain
    assert "health" not in plain
    assert "it keeps until 4 March 2027: nothing." in notice([], date(2027, 3, 4))


def _of(sample, sitter, sitting):
    return dataclasses.replace(
        sample, sitter_id=sitter.id, sitting_id=sitting.id, id=entries.new_id()
    )
