"""EXIF facts come through in millimetres, and nonsense becomes a note, never a number."""

from datetime import datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from PIL.TiffImagePlugin import IFDRational

from sitwell.brief.exif import facts_from_tags, read_exif

FOCAL, FOCAL_35, F_NUMBER, DISTANCE = 37386, 41989, 33437, 37382
TIME, SUBSECONDS, OFFSET = 36867, 37521, 36881


def test_facts_travel_through_a_file(tmp_path):
    exif = Image.Exif()
    details = exif.get_ifd(0x8769)
    details[FOCAL], details[F_NUMBER], details[FOCAL_35] = 85.0, 1.8, 85
    details[DISTANCE], details[TIME], details[SUBSECONDS] = 2.5, "2026:05:04 10:11:12", "25"
    Image.new("RGB", (64, 64)).save(tmp_path / "a.jpg", exif=exif)
    with Image.open(tmp_path / "a.jpg") as image:
        facts = read_exif(image)
    assert (facts.focal_mm, facts.focal_35_mm, facts.f_number) == (85.0, 85.0, 1.8)
    assert facts.subject_distance_mm == 2500.0
    assert facts.taken == datetime(2026, 5, 4, 10, 11, 12, 250_000)
    assert facts.notes == ()


@pytest.mark.parametrize(
    ("digits", "microseconds"), [("5", 500_000), ("05", 50_000), ("1234567", 123_456), ("x", 0)]
)
def test_subseconds_are_a_decimal_fraction(digits, microseconds):
    taken = facts_from_tags({TIME: "2026:05:04 10:11:12", SUBSECONDS: digits}).taken
    assert taken == datetime(2026, 5, 4, 10, 11, 12, microseconds)


def test_the_zone_is_kept_where_it_is_written():
    taken = facts_from_tags({TIME: "2026:05:04 10:11:12", OFFSET: "+02:00"}).taken
    assert taken == datetime(2026, 5, 4, 10, 11, 12, tzinfo=timezone(timedelta(hours=2)))


@pytest.mark.parametrize("text", ["", "0000:00:00 00:00:00", "yesterday", "    :  :     :  :  "])
def test_a_time_that_is_none_stays_unknown(text):
    assert facts_from_tags({TIME: text}).taken is None


@pytest.mark.parametrize(
    ("tag", "value", "says"),
    [
        (FOCAL, 99999, "The EXIF focal length is 99999, which no camera has; it was not used."),
        (FOCAL, -85, "The EXIF focal length is -85, which no camera has; it was not used."),
        (FOCAL, IFDRational(1, 0), "The EXIF focal length is unreadable, which no camera has;"),
        (FOCAL_35, 5000, "The EXIF 35 mm-equivalent focal length is 5000, which no camera has;"),
        (F_NUMBER, 1000, "The EXIF f-number is 1000, which no camera has; it was not used."),
    ],
)
def test_nonsense_is_a_note_and_no_number(tag, value, says):
    facts = facts_from_tags({tag: value})
    assert facts.focal_mm is facts.focal_35_mm is facts.f_number is None
    assert len(facts.notes) == 1
    assert facts.notes[0].startswith(says)


def test_two_focal_lengths_that_fit_no_sensor_are_both_left_out():
    facts = facts_from_tags({FOCAL: 85, FOCAL_35: 4})
    assert facts.focal_mm is facts.focal_35_mm is None
    assert facts.notes == (
        "EXIF gives a focal length of 85 mm and a 35 mm equivalent of 4 mm, which fit no sensor; "
        "neither was used.",
    )


def test_zero_is_the_standards_word_for_unknown():
    facts = facts_from_tags({FOCAL: 0, FOCAL_35: 0, DISTANCE: 0})
    assert facts == facts_from_tags({})


def test_a_damaged_block_is_a_note():
    class Damaged:
        def getexif(self):
            raise SyntaxError("not a TIFF file")

    assert read_exif(Damaged()).notes == ("The EXIF block is damaged and was not used.",)


@given(st.dictionaries(
    st.sampled_from([FOCAL, FOCAL_35, F_NUMBER, DISTANCE, TIME, SUBSECONDS, OFFSET, 41486, 41487,
                     41488, 40962, 40963]),
    st.one_of(st.none(), st.text(), st.floats(), st.integers(), st.binary(), st.tuples()),
))  # fmt: skip
def test_no_tag_can_break_the_reading(tags):
    facts = facts_from_tags(tags)
    for value in (facts.focal_mm, facts.focal_35_mm, facts.f_number, facts.subject_distance_mm):
        assert value is None or value > 0


@pytest.mark.parametrize(
    ("pixels", "diagonal_mm"),
    [((6000, 4000), 43.27), ((4000, 6000), 43.27), ((1200, 800), None), ((3000, 2000), None)],
)
def test_a_resized_export_has_no_sensor(pixels, diagonal_mm):
    # 6000 pixels on 36 mm: the resolution stays in the file when the picture is made smaller
    per_cm = IFDRational(6000 * 10, 36)
    wide, high = pixels
    tags = {41486: per_cm, 41487: per_cm, 41488: 3, 40962: wide, 40963: high}
    found = facts_from_tags(tags).sensor_diagonal_mm
    assert found == (None if diagonal_mm is None else pytest.approx(diagonal_mm, abs=0.01))
