import dataclasses
from datetime import UTC, date, datetime, timedelta, timezone

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sitwell.base.errors import ConsentError, StoreError
from sitwell.brief.wishes import DIRECTIONS, FEATURES, WEIGHTS, Wish
from sitwell.scene.setup import CROPS, Setup
from sitwell.search.plan import Conflict, Gain, GuardState, Leeway, Plan, PlannedSetup, Reason
from sitwell.store import entries
from sitwell.store.opening import open_records
from sitwell.store.record_bytes import from_body, to_body
from sitwell.store.schema import TABLE_OF
from sitwell.store.sealed import Seal

WORDS = st.text(st.characters(exclude_categories=("Cs",)), max_size=20)
LABELS = WORDS.filter(lambda text: text.strip())
NUMBERS = st.floats(allow_nan=False)
MEASURES = st.dictionaries(WORDS, NUMBERS, max_size=4)
MOMENTS = st.datetimes(
    min_value=datetime(1990, 1, 1),
    max_value=datetime(2100, 1, 1),
    timezones=st.sampled_from([UTC, timezone(timedelta(hours=-7)), timezone(timedelta(hours=2))]),
)
SETUPS = st.builds(
    Setup,
    turn_deg=st.floats(-90, 90),
    distance_mm=st.floats(900, 9000),
    crop=st.sampled_from(CROPS),
)
GAINS = st.builds(Gain, wish=WORDS, measure=WORDS, was=NUMBERS, becomes=NUMBERS, gain=NUMBERS)
GUARDS = st.builds(
    GuardState,
    name=WORDS,
    measure=WORDS,
    value=NUMBERS,
    limit=NUMBERS,
    must_be=WORDS,
    holds=st.booleans(),
)
LEEWAYS = st.builds(Leeway, move=WORDS, low=NUMBERS, high=NUMBERS, low_why=WORDS, high_why=WORDS)
REASONS = st.builds(
    Reason, move=WORDS, from_value=NUMBERS, to_value=NUMBERS, contribution=NUMBERS, sentence=WORDS
)
CONFLICTS = st.builds(Conflict, first=WORDS, second=WORDS, move=WORDS, sentence=WORDS)


def few(strategy):
    return st.lists(strategy, max_size=2).map(tuple)


PLANNED = st.builds(
    PlannedSetup,
    name=WORDS,
    setup=SETUPS,
    measures=MEASURES,
    gains=few(GAINS),
    guards=few(GUARDS),
    leeway=few(LEEWAYS),
    reasons=few(REASONS),
    notes=few(WORDS),
)
PLANS = st.builds(
    Plan,
    baseline=SETUPS,
    baseline_measures=MEASURES,
    setups=few(PLANNED),
    conflicts=few(CONFLICTS),
    notes=few(WORDS),
)
WISHES = st.builds(
    Wish,
    feature=st.sampled_from(FEATURES),
    direction=st.sampled_from(DIRECTIONS),
    weight=st.sampled_from(WEIGHTS),
)
IDS = st.uuids().map(lambda u: u.hex)
OF = {"sitter_id": IDS, "sitting_id": IDS, "at": MOMENTS, "id": IDS}
DAY = timedelta(days=1)
ANYTHING = st.one_of(
    st.builds(entries.Sitter, label=LABELS, note=WORDS, child=st.booleans(), at=MOMENTS, id=IDS),
    st.builds(
        lambda at, days, **rest: entries.Consent(at=at, keep_until=at.date() + days * DAY, **rest),
        at=MOMENTS,
        days=st.integers(0, 1000),
        sitter_id=IDS,
        purpose=st.sampled_from(entries.PURPOSES),
        by=st.sampled_from(entries.GIVERS),
        guardian=LABELS,
        notice=LABELS,
        withdrawn_at=st.none() | MOMENTS,
        id=IDS,
    ),
    st.builds(entries.Sitting, sitter_id=IDS, title=WORDS, note=WORDS, at=MOMENTS, id=IDS),
    st.builds(entries.KeptWishes, wishes=few(WISHES), note=WORDS, **OF),
    st.builds(
        entries.KeptHead,
        shape=MEASURES,
        expression=MEASURES,
        level_frame=MEASURES,
        arrays=st.dictionaries(WORDS, few(NUMBERS), max_size=3),
        note=WORDS,
        **OF,
    ),
    st.builds(entries.KeptPlan, plan=PLANS, **OF),
    st.builds(
        entries.UsedSetup,
        name=WORDS,
        setup=SETUPS,
        worked=st.none() | st.booleans(),
        note=WORDS,
        **OF,
    ),
    st.builds(
        entries.KeptFrame,
        path=WORDS,
        setup_name=WORDS,
        measures=MEASURES,
        rating=st.none() | st.sampled_from(entries.RATINGS),
        chosen=st.booleans(),
        note=WORDS,
        **OF,
    ),
    st.builds(entries.Crop, name=WORDS, png=st.binary(max_size=50), **OF),
    st.builds(
        entries.OurFile, sitter_id=IDS, what=WORDS, path=WORDS, sha256=WORDS, at=MOMENTS, id=IDS
    ),
    st.builds(
        entries.KeptKit,
        name=LABELS,
        content=st.dictionaries(WORDS, st.integers() | WORDS | st.none(), max_size=3),
        at=MOMENTS,
        id=IDS,
    ),
)


@given(record=ANYTHING, sealed=st.booleans())
@settings(max_examples=200, deadline=None)
def test_any_record_comes_back_equal_from_its_body(record, sealed):
    seal = Seal(bytes(range(32))) if sealed else None
    body = to_body(record, seal, "here")
    assert from_body(body, type(record), seal, "here") == record


@given(record=ANYTHING)
@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_any_record_comes_back_equal_from_the_records(record, tmp_path_factory, yes):
    with open_records(tmp_path_factory.mktemp("home")) as records:
        if not isinstance(record, entries.Sitter | entries.KeptKit):
            sitter = entries.Sitter(label="invented", id=record.sitter_id)
            sitting = entries.Sitting(
                sitter_id=sitter.id, id=getattr(record, "sitting_id", entries.new_id())
            )
            records.keep(sitter, *(yes(sitter, purpose) for purpose in entries.PURPOSES), sitting)
        records.keep(record)
        assert record in records.all(type(record))


def test_not_a_number_and_infinity_survive(records, fill):
    filled = fill(records)
    head = entries.KeptHead(
        sitter_id=filled.sitter.id,
        sitting_id=filled.sitting.id,
        shape={"a": float("nan"), "b": float("inf"), "c": float("-inf")},
    )
    records.keep(head)
    shape = records.all(entries.KeptHead)[-1].shape
    assert repr(dict(shape)) == "{'a': nan, 'b': inf, 'c': -inf}"


def test_everything_of_a_sitting_is_found_again(records, fill):
    filled = fill(records)
    for record in filled.held:
        assert records.of_sitting(type(record), filled.sitting) == (record,)
        assert records.all(type(record), filled.sitter) == (record,)
    assert records.sitters() == (filled.sitter,)
    assert records.sitter_of(filled.sitting) == filled.sitter


def test_a_sitter_is_found_whatever_the_capitals_and_spaces(records):
    sitter = records.add_sitter("Ünlikely  Name")
    assert records.sitter("  ünlikely name ") == sitter
    assert records.sitter("U\u0308NLIKELY NAME") == sitter


def test_a_label_that_is_taken_is_refused(records):
    records.add_sitter("Ada")
    with pytest.raises(StoreError, match="'ADA' is taken in the sitters; choose another name"):
        records.add_sitter("ADA")


def test_an_unknown_sitter_is_one_sentence_and_names_nobody_else(records):
    records.add_sitter("Secret Person")
    with pytest.raises(StoreError, match=r"No sitter is called 'Nobody'; search for a part") as no:
        records.sitter("Nobody")
    assert "Secret" not in str(no.value)


def test_an_empty_label_is_refused(records):
    with pytest.raises(StoreError, match="label is empty; give a name, a number or initials"):
        records.add_sitter("  ")


def test_kits_and_rooms_are_kept_by_name(records):
    kit = entries.KeptKit(name="Small kit", content={"lenses": [{"focal_mm": 85}]})
    room = entries.KeptRoom(name="Loft", content={"length_mm": 6000})
    records.keep(kit, room)
    assert records.kit("small kit") == kit
    assert records.room("LOFT") == room
    with pytest.raises(StoreError, match="No kit is called 'large'"):
        records.kit("large")
    with pytest.raises(StoreError, match="'small KIT' is taken in the kits"):
        records.keep(entries.KeptKit(name="small KIT", content={}))


def test_a_record_with_a_known_number_replaces_the_old_one(records, fill):
    filled = fill(records)
    chosen = dataclasses.replace(filled.held[4], chosen=True, rating=5)
    records.keep(chosen)
    assert records.all(entries.KeptFrame) == (chosen,)
    with pytest.raises(StoreError, match="its name or number is taken"):
        records.keep(chosen, only_new=True)


def test_a_record_can_not_be_moved_to_another_sitter(records, fill):
    first, second = fill(records, "first"), fill(records, "second")
    stolen = dataclasses.replace(
        first.held[1], sitter_id=second.sitter.id, sitting_id=second.sitting.id
    )
    with pytest.raises(StoreError, match="does not fit the others"):
        records.keep(stolen)
    assert records.all(entries.KeptHead, first.sitter) == (first.held[1],)


def test_all_or_nothing(records, fill):
    filled = fill(records)
    good = dataclasses.replace(filled.held[1], id=entries.new_id())
    bad = dataclasses.replace(good, id=entries.new_id(), sitting_id=entries.new_id())
    with pytest.raises(StoreError, match="does not fit the others"):
        records.keep(good, bad)
    assert records.all(entries.KeptHead) == (filled.held[1],)


def test_returning_brings_back_the_newest_head_and_what_worked(records, fill):
    filled = fill(records)
    of = {"sitter_id": filled.sitter.id, "sitting_id": filled.sitting.id}
    head = entries.KeptHead(**of, shape={"nose": 0.5}, level_frame={"chin_deg": -2.0})
    failed = entries.UsedSetup(**of, name="failed", setup=Setup(), worked=False)
    unsaid = entries.UsedSetup(**of, name="unsaid", setup=Setup())
    better = entries.UsedSetup(**of, name="better", setup=Setup(turn_deg=20.0), worked=True)
    records.keep(head, failed, unsaid, better)
    back = records.returning(filled.sitter)
    assert back.head == head
    assert [setup.name for setup in back.worked] == ["better", filled.held[3].name]
    assert back.wishes == filled.held[0]
    assert back.agreed == frozenset(entries.PURPOSES)


def test_returning_shows_nothing_after_the_term(records, fill):
    filled = fill(records)
    back = records.returning(filled.sitter, at=entries.now() + timedelta(days=400))
    assert (back.head, back.wishes, back.worked, back.agreed) == (None, None, (), frozenset())


def test_returning_of_somebody_new_is_empty(records):
    back = records.returning(records.add_sitter("new"))
    assert (back.head, back.wishes, back.worked) == (None, None, ())


def test_search_finds_words_in_labels_notes_and_wishes(records, fill):
    filled = fill(records, "Invented Person")
    records.keep(entries.KeptKit(name="Person's kit", content={}))
    assert {type(hit.record) for hit in records.search("PERSON")} == {
        entries.Sitter,
        entries.KeptKit,
    }
    assert [hit.record for hit in records.search("ears")] == [filled.held[0]]
    assert len(records.search("zwiebel")) >= 6
    assert records.search("nothing like it") == ()
    assert records.search(filled.sitter.id[:8]) == ()
    with pytest.raises(StoreError, match="search text is empty; give a word"):
        records.search(" ")


@pytest.mark.parametrize("kind", TABLE_OF)
def test_records_are_frozen(kind):
    assert dataclasses.fields(kind)
    assert kind.__dataclass_params__.frozen


def test_a_moment_without_a_zone_is_refused():
    with pytest.raises(StoreError, match="at 2026-01-02T00:00:00 has no time zone; give one"):
        entries.Sitting(sitter_id="s", at=datetime(2026, 1, 2))


def test_an_unknown_rating_is_refused():
    with pytest.raises(StoreError, match="rating 6 is not known; give -1, or 0 to 5"):
        entries.KeptFrame(sitter_id="s", sitting_id="g", path="a.jpg", rating=6)


def test_what_is_no_plain_data_is_refused(records):
    with pytest.raises(StoreError, match=r"can't be kept .* give plain numbers and words"):
        records.keep(entries.KeptKit(name="odd", content={"a": object()}))


def test_a_damaged_body_is_one_sentence(records):
    for body in (b"{", b"[]", b'{"label": 3}', b"\xff\xfe"):
        with pytest.raises(StoreError, match="use a backup"):
            from_body(body, entries.Sitter, None, "sitters/1")


def test_a_forgotten_sitter_is_not_kept_again_by_an_open_page(records, fill):
    from sitwell.store.erase import forget

    filled = fill(records)
    forget(records, filled.sitter)
    with pytest.raises(ConsentError, match="was forgotten on this machine; if they sit again"):
        records.keep(dataclasses.replace(filled.sitter, note="edited"))
    with pytest.raises(StoreError, match="not in the records any more; add them again"):
        records.keep(filled.held[1])


def test_a_year_later_is_the_same_day():
    assert entries.add_years(date(2028, 2, 29), 1) == date(2029, 2, 28)
    assert entries.add_years(date(2028, 2, 29), 4) == date(2032, 2, 29)
    assert entries.add_years(date(2026, 11, 25), 3) == date(2029, 11, 25)
