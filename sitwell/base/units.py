"""Conversions between the units a photographer uses; no conversion happens anywhere else."""

import math

from sitwell.base.words import mark, number, tr

DISTANCE = mark("{metres} m ({feet} ft {inches} in)")
LENGTH = mark("{centimetres} cm ({inches} in)")
ONE_STOP, STOPS = mark("1 stop"), mark("{stops} stops")
MM_PER_FOOT = 304.8
MM_PER_INCH = 25.4


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


def distance_words(length_mm: float) -> str:
    """A distance for paper and screen, in metres and feet: ``1.80 m (5 ft 11 in)``.

    Where a language's readers measure in metres alone, its catalogue leaves the feet out.
    """
    inches = round(abs(length_mm) / MM_PER_INCH)
    metres = number(metres_from_mm(length_mm), 2, whole=True)
    return tr(DISTANCE, metres=metres, feet=inches // 12, inches=inches % 12)


def length_words(length_mm: float) -> str:
    """A length for paper: in cm and inches below a metre, in metres and feet from there."""
    if abs(length_mm) >= 1000:
        return distance_words(abs(length_mm))
    centimetres, inches = number(abs(length_mm) / 10, 0), number(abs(length_mm) / MM_PER_INCH, 0)
    return tr(LENGTH, centimetres=centimetres, inches=inches)


def stops_words(stops: float) -> str:
    """How many stops, without a sign: 1 stop, 1.5 stops."""
    amount = plain_number(abs(stops))
    return tr(ONE_STOP) if amount == "1" else tr(STOPS, stops=amount)


def plain_number(value: float, digits: int = 1) -> str:
    """A number without idle zeros, and never minus zero: 3, 2.8, 0."""
    return number(value, digits)
