"""What a plan drawing is made of, as the browser is told it."""

from dataclasses import dataclass

Box = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lettering:
    """A few words at a place of the drawing; ``side`` is where they stand from it."""

    x: float
    y: float
    text: str
    side: str = "right"
    kind: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Handle:
    """A thing that can be dragged, or moved with the arrow keys.

    ``off`` is how far below the thing its handle stands, so that two can be told apart.
    """

    id: str
    x: float
    y: float
    name: str
    value: str
    off: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Floor:
    """One drawing: its frame (x, y, width, height), ink, lettering and handles."""

    box: Box
    ink: str
    lettering: tuple[Lettering, ...]
    handles: tuple[Handle, ...]
    words: str
