"""Conversions between the units a photographer uses; no conversion happens anywhere else."""

import math
from collections.abc import Callable

from sitwell.base.words import mark, number, tr

DISTANCE = mark("{metres} m ({feet} ft {inches} in)")
LENGTH = mark("{centimetres} cm ({inches} in)")
METRES, CENTIMETRES = mark("{metres} m"), mark("{centimetres} cm")
FEET, INCHES = mark("{feet} ft {inches} in"), mark("{inches} in")
ONE_STOP, STOPS = mark("1 stop"), mark("{stops} stops")
MM_PER_FOOT = 304.8
MM_PER_INCH = 25.4
_askers: list[Callable[[], str]] = []


def feet_from_mm(length_mm: float) -> float:
    """Feet from millimetres (international foot, 304.8 mm exactly)."""
    return length_mm / MM_PER_FOOT


def metres_from_mm(length_mm: float) -> float:
    """Metres from millimetres."""
    return length_mm / 1000.0


def stops_from_ratio(ratio: float) -> float:
    """Stops between two amounts of light; a ratio of 2 is one stop. ``ratio`` > 0."""
    return math.log2(ratio)


def ratio_from_stops(stops: float) -> float:
    """How many times more light ``stops`` more is."""
    return 2.0**stops


def ask_for_units(ask: Callable[[], str]) -> None:
    """Let ``ask`` tell "metric" or "imperial", "" for both: a page knows its reader's."""
    if ask not in _askers:
        _askers.append(ask)


def distance_words(length_mm: float) -> str:
    """A distance for paper and screen, in metres and feet: ``1.80 m (5 ft 11 in)``.

    Where a language's readers measure in metres alone, its catalogue leaves the feet out; where a
    reader has chosen one of the two, it stands alone.
    """
    wanted, metres = _wanted(), number(metres_from_mm(length_mm), 2, whole=True)
    if wanted == "imperial":
        return imperial_words(length_mm)
    if wanted == "metric":
        return tr(METRES, metres=metres)
    feet, inches = _feet_and_inches(length_mm)
    return tr(DISTANCE, metres=metres, feet=feet, inches=inches)


def length_words(length_mm: float) -> str:
    """A length for paper: in cm and inches below a metre, in metres and feet from there.

    Below nothing it keeps its sign, as all lengths here do: where words such as "below" tell it,
    give the amount.
    """
    if abs(length_mm) >= 1000:
        return distance_words(length_mm)
    return imperial_words(length_mm) if _wanted() == "imperial" else _short(length_mm, 0)


def small_words(length_mm: float) -> str:
    """A few centimetres, as a chin goes forward: ``1.5 cm (0.6 in)``."""
    if _wanted() == "imperial":
        return tr(INCHES, inches=number(length_mm / MM_PER_INCH, 1))
    return _short(length_mm, 1)


def imperial_words(length_mm: float) -> str:
    """A length in inches, from two feet on in feet and inches."""
    if feet_from_mm(abs(length_mm)) < 2:
        return tr(INCHES, inches=number(length_mm / MM_PER_INCH, 0))
    feet, inches = _feet_and_inches(length_mm)
    return tr(FEET, feet=feet, inches=inches)


def _feet_and_inches(length_mm: float) -> tuple[str, str]:
    """Feet, with the sign of both, and the inches left."""
    inches = round(abs(length_mm) / MM_PER_INCH)
    minus = "−" if length_mm < 0 and inches > 0 else ""
    return f"{minus}{inches // 12}", str(inches % 12)


def _short(length_mm: float, digits: int) -> str:
    centimetres = number(length_mm / 10, digits)
    if _wanted() == "metric":
        return tr(CENTIMETRES, centimetres=centimetres)
    return tr(LENGTH, centimetres=centimetres, inches=number(length_mm / MM_PER_INCH, digits))


def _wanted() -> str:
    return next((found for ask in _askers if (found := ask())), "")


def stops_words(stops: float) -> str:
    """How many stops: 1 stop, 1.5 stops, −2 stops."""
    amount = plain_number(stops)
    return tr(ONE_STOP) if amount == "1" else tr(STOPS, stops=amount)


def plain_number(value: float, digits: int = 1) -> str:
    """A number without idle zeros, and never minus zero: 3, 2.8, 0."""
    return number(value, digits)
