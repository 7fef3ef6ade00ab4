"""What a measure is called, what it counts in, and what it means, in one sentence."""

from dataclasses import dataclass

SHARE_OF_HEIGHT = "face heights"
SHARE_OF_AREA = "face areas"


@dataclass(frozen=True, slots=True)
class Measure:
    """One row of the table of measures."""

    name: str
    unit: str
    meaning: str


def both_sides(name: str, unit: str, meaning: str) -> tuple[Measure, Measure]:
    """A measure of the sitter's own left and of their own right; ``{}`` stands for the side."""
    return (
        Measure(name.format("own_left"), unit, meaning.format("own left")),
        Measure(name.format("own_right"), unit, meaning.format("own right")),
    )
