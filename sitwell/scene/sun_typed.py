"""Places, time zones, days and times as a photographer types them; a slip is a UsageError."""

import re
from datetime import date, datetime, timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo

from sitwell.base.errors import UsageError
from sitwell.base.words import tr
from sitwell.scene.sun import Place

YEARS = (1900, 2199)
_OFFSET = re.compile(r"(?:UTC|GMT)?([+-])(\d{1,2})(?::?(\d{2}))?", re.IGNORECASE)


def parse_place(text: str) -> Place:
    """A place from "51.48,-0.01": degrees north, then degrees east; south and west are negative."""
    parts = [part.strip() for part in text.split(",")]
    try:
        latitude_deg, longitude_deg = (float(part) for part in parts)
    except ValueError as problem:
        raise UsageError(
            tr(
                "The place '{text}' can't be read; write degrees north and east with a comma "
                "between, south and west negative, such as 51.48,-0.01.",
                text=text,
            )
        ) from problem
    return Place(latitude_deg=latitude_deg, longitude_deg=longitude_deg)


def parse_zone(text: str) -> tzinfo | None:
    """A time zone by its name ("Europe/Berlin") or offset ("+01:00"); "" is the machine's, None."""
    if not text.strip():
        return None
    offset = _OFFSET.fullmatch(text.strip())
    if offset:
        sign, hours, minutes = offset.groups()
        away = timedelta(hours=int(hours), minutes=int(minutes or 0))
        if away < timedelta(hours=24):
            return timezone(-away if sign == "-" else away)
    try:
        return ZoneInfo(text.strip())
    except (KeyError, ValueError, OSError) as problem:
        raise UsageError(
            tr(
                "The time zone '{text}' is not known here; write a name such as Europe/Berlin, "
                "or hours from UTC such as +01:00.",
                text=text,
            )
        ) from problem


def parse_day(text: str, zone: tzinfo | None) -> date:
    """A day from "2026-11-25"; "" is today in the zone."""
    if not text.strip():
        return datetime.now(zone).date()
    try:
        return _known(date.fromisoformat(text.strip()), text)
    except ValueError as problem:
        raise UsageError(
            tr(
                "The day '{text}' can't be read; write year, month and day, such as 2026-11-25.",
                text=text,
            )
        ) from problem


def parse_time(text: str, zone: tzinfo | None = None) -> datetime:
    """A moment from "2026-11-25T15:00", "2026-11-25 15:00+01:00", or "15:00" for today.

    One that names no zone is in ``zone``, None for the machine's.
    """
    typed = text.strip()
    if re.match(r"\d{1,2}:\d{2}", typed):
        typed = f"{datetime.now(zone):%Y-%m-%d}T{typed.zfill(5)}"
    try:
        when = datetime.fromisoformat(typed)
    except ValueError as problem:
        raise UsageError(
            tr(
                "The time '{text}' can't be read; write day and time, such as 2026-11-25T15:00.",
                text=text,
            )
        ) from problem
    _known(when.date(), text)
    if when.tzinfo is not None:
        return when
    return when.astimezone() if zone is None else when.replace(tzinfo=zone)


def _known(day: date, text: str) -> date:
    """Further off than this neither time zones nor the earth's turning are known well enough."""
    first, last = YEARS
    if not first <= day.year <= last:
        raise UsageError(
            tr(
                "'{text}' is too far off to compute a sun for; give a year from {first} to {last}.",
                text=text,
                first=str(first),
                last=str(last),
            )
        )
    return day
