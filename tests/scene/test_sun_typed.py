from datetime import UTC, date, datetime, timedelta, timezone

import pytest

from sitwell.base.errors import PlaceError, UsageError
from sitwell.scene.sun_typed import parse_day, parse_place, parse_time, parse_zone


@pytest.mark.parametrize(
    ("text", "north", "east"), [("51.48,-0.01", 51.48, -0.01), (" -33.9 , 151 ", -33.9, 151.0)]
)
def test_a_place(text, north, east):
    place = parse_place(text)
    assert (place.latitude_deg, place.longitude_deg) == (north, east)


@pytest.mark.parametrize("text", ["", "51.48", "51,48,0,01", "London", "51.48;0"])
def test_a_place_that_cant_be_read(text):
    with pytest.raises(UsageError, match="can't be read; write degrees north and east"):
        parse_place(text)


def test_a_place_off_the_earth():
    with pytest.raises(PlaceError, match="latitude 95 is no place on earth"):
        parse_place("95,0")


@pytest.mark.parametrize(
    ("text", "hours"),
    [("+01:00", 1), ("-0330", -3.5), ("UTC+5", 5), ("gmt-8", -8), ("UTC", 0), ("Asia/Tokyo", 9)],
)
def test_a_zone_by_name_or_offset(text, hours):
    assert datetime(2026, 6, 1, tzinfo=parse_zone(text)).utcoffset() == timedelta(hours=hours)


def test_no_zone_is_the_machines():
    assert parse_zone(" ") is None


@pytest.mark.parametrize("text", ["Mars/Olympus", "+99:00", "../etc/passwd", "one"])
def test_a_zone_that_is_not_known(text):
    with pytest.raises(UsageError, match=r"time zone .* is not known here; write a name such as"):
        parse_zone(text)


def test_a_day():
    assert parse_day("2026-11-25", UTC) == date(2026, 11, 25)
    assert parse_day("", UTC) == datetime.now(UTC).date()
    with pytest.raises(UsageError, match=r"'25.11.2026' can't be read; write year, month and day"):
        parse_day("25.11.2026", UTC)


def test_a_time_with_its_zone_and_without():
    one = timezone(timedelta(hours=1))
    there = datetime(2026, 11, 25, 15, tzinfo=one)
    assert parse_time("2026-11-25T15:00", one) == there
    assert parse_time("2026-11-25 15:00+01:00") == there
    assert parse_time("2026-11-25T15:00") == datetime(2026, 11, 25, 15).astimezone()


def test_a_time_of_today():
    today = datetime.now(UTC)
    assert parse_time("9:05", UTC) == today.replace(hour=9, minute=5, second=0, microsecond=0)


@pytest.mark.parametrize("text", ["noon", "25:61", "2026-13-01T00:00", ""])
def test_a_time_that_cant_be_read(text):
    with pytest.raises(UsageError, match="can't be read; write day and time, such as 2026-11-25T"):
        parse_time(text)


@pytest.mark.parametrize("text", ["0001-01-01", "9999-12-31", "1899-12-31"])
def test_a_day_too_far_off_is_refused(text):
    with pytest.raises(UsageError, match=f"'{text}' is too far off to compute a sun for; give a"):
        parse_day(text, UTC)
    with pytest.raises(UsageError, match="give a year from 1900 to 2199"):
        parse_time(f"{text}T12:00", UTC)
