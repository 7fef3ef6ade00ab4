"""The atlas: one sitter over turns and chins, and along other moves; which cells there are.

A cell is the set-up in hand with one or two moves changed; nothing is searched for it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sitwell.scene.setup import Setup
from sitwell.ui.web.brief import Reach

TURN_STEP_DEG, CHIN_STEP_DEG = 10.0, 6.0
# Of each strip, the values that are looked at, as far as they are within reach; by natural steps.
STRIPS: Mapping[str, tuple[float, ...]] = {
    "key_azimuth_deg": (-75.0, -60.0, -45.0, -30.0, -15.0, 15.0, 30.0, 45.0, 60.0, 75.0),
    "key_elevation_deg": (0.0, 15.0, 30.0, 45.0, 60.0),
    "camera_height_mm": (-300.0, -200.0, -100.0, 0.0, 100.0, 200.0, 300.0),
    "distance_mm": (1200.0, 1500.0, 2000.0, 2500.0, 3000.0, 4000.0),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One cell: what is changed in the set-up in hand, and how far that is from it, in steps."""

    changes: Mapping[str, float]
    away: float


def grid(
    setup: Setup, reaches: Mapping[str, Reach], stops: Sequence[Setup] = ()
) -> list[list[Cell]]:
    """Rows of cells, the highest chin first; turns run as the camera sees them.

    A positive turn is to the sitter's own left, which is the picture's right. The cell nearest to a
    stop of the plan has that stop's own turn and chin.
    """
    chins = _stepped(reaches["chin_deg"], CHIN_STEP_DEG)[::-1]
    turns = _stepped(reaches["turn_deg"], TURN_STEP_DEG)
    own = {}
    for stop in stops:
        at = (min(turns, key=lambda turn: abs(turn - stop.turn_deg)),
              min(chins, key=lambda chin: abs(chin - stop.chin_deg)))  # fmt: skip
        own[at] = stop.turn_deg, stop.chin_deg
    cells = [[own.get((turn, chin), (turn, chin)) for turn in turns] for chin in chins]
    return [
        [_cell(setup, {"turn_deg": turn, "chin_deg": chin}) for turn, chin in row] for row in cells
    ]


def strip(setup: Setup, move: str, reach: Reach, values: tuple[float, ...] = ()) -> list[Cell]:
    """One row of cells along one move; a strip of one cell would show nothing and is left out."""
    within = [v for v in values or STRIPS[move] if reach.low <= v <= reach.high]
    return [_cell(setup, {move: value}) for value in within] if len(within) > 1 else []


def nearest(cells: list[Cell], setup: Setup) -> Cell:
    """The cell that comes nearest to a set-up."""
    return min(cells, key=lambda cell: _away(setup, cell.changes))


def _stepped(reach: Reach, step: float) -> list[float]:
    first, last = -int(-reach.low // step), int(reach.high // step)
    return [step * number for number in range(first, last + 1)]


def _cell(setup: Setup, changes: Mapping[str, float]) -> Cell:
    return Cell(changes=changes, away=_away(setup, changes))


_STEP = {
    "turn_deg": TURN_STEP_DEG,
    "chin_deg": CHIN_STEP_DEG,
    "key_azimuth_deg": 15.0,
    "key_elevation_deg": 15.0,
    "camera_height_mm": 100.0,
    "distance_mm": 500.0,
    "focal_mm": 25.0,
}


def _away(setup: Setup, changes: Mapping[str, float]) -> float:
    return sum(
        ((value - getattr(setup, move)) / _STEP[move]) ** 2 for move, value in changes.items()
    )
