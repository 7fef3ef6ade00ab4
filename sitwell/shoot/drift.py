"""How far each move of a set-up has drifted from where it was planned, against its leeway."""

import math
from collections.abc import Callable
from dataclasses import dataclass

from sitwell.base.words import mark, tr
from sitwell.search.plan import PlannedSetup
from sitwell.shoot.frame_facts import Sight

# A need begins to be spoken of at 1 and is dropped below a half, so that noise changes nothing.
BEGINS, ENDS = 1.0, 0.5

# Noise of one reading, by move: a nudge starts this far outside the leeway and ends this far
# inside it. From the spread of quick pose fits on synthetic heads; the light's is our guess.
BANDS = {
    "turn_deg": 2.0,
    "chin_deg": 2.0,
    "tilt_deg": 1.5,
    "distance_mm": 60.0,
    "camera_height_mm": 40.0,
    "key_azimuth_deg": 8.0,
    "key_elevation_deg": 8.0,
    "fill_ratio": 0.4,  # in stops, as its leeway below: a ratio of light is felt in stops
}
# Half-widths where a plan gives no leeway: half of a natural step.
USUAL_LEEWAY = {
    "turn_deg": 4.0,
    "chin_deg": 3.0,
    "tilt_deg": 3.0,
    "distance_mm": 150.0,
    "camera_height_mm": 80.0,
    "key_azimuth_deg": 12.0,
    "key_elevation_deg": 12.0,
    "fill_ratio": 0.5,
}
_WORDS = {
    "turn_deg": mark("the turn"),
    "chin_deg": mark("the chin"),
    "tilt_deg": mark("the tilt"),
    "distance_mm": mark("the distance"),
    "camera_height_mm": mark("the camera's height"),
    "key_azimuth_deg": mark("the key's side"),
    "key_elevation_deg": mark("the key's height"),
    "fill_ratio": mark("the fill"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Drift:
    """One move: where it is, where it should be, and how much that needs a nudge.

    ``need`` is 1 one band outside the leeway, a half one band inside it, and straight otherwise;
    ``weight`` is 1 to 2, more for a move that carries more of the plan's gain. ``stays`` is said of
    a key that nobody can move.
    """

    move: str
    value: float
    target: float
    need: float
    weight: float = 1.0
    stays: bool = False

    @property
    def difference(self) -> float:
        """What is still to be made: target minus now."""
        return self.target - self.value

    def words(self) -> str:
        """The move as the photographer calls it."""
        return tr(_WORDS[self.move])


def drifts_of(sight: Sight, planned: PlannedSetup | None) -> tuple[Drift, ...]:
    """The drift of every move that the frame shows and the plan sets.

    Nobody raises the sun: the height of a key that stays is no move.
    """
    if planned is None:
        return ()
    shares, stays = _contributions(planned), bool(planned.light)
    return tuple(
        Drift(
            move=move,
            value=sight.moves[move],
            target=float(getattr(planned.setup, move)),
            need=_need(sight, planned, move),
            weight=1.0 + shares.get(move, 0.0),
            stays=stays and move == "key_azimuth_deg",
        )
        for move in BANDS
        if math.isfinite(sight.moves.get(move, math.nan))
        and not (stays and move == "key_elevation_deg")
    )


def _need(sight: Sight, planned: PlannedSetup, move: str) -> float:
    """Straight in the deviation, so that noise of one band changes it by at most a quarter."""
    planned_at = float(getattr(planned.setup, move))
    band = max(BANDS[move], sight.spread.get(move, 0.0))
    scale = math.log2 if move == "fill_ratio" else float
    low, high = _edges(planned, move, planned_at, scale)
    value, target = scale(sight.moves[move]), scale(planned_at)
    edge = high - target if value >= target else target - low
    ends = max(edge - band, band / 4)
    return max(0.0, ENDS + (abs(value - target) - ends) / (4 * band))


def _edges(
    planned: PlannedSetup, move: str, target: float, scale: Callable[[float], float]
) -> tuple[float, float]:
    for leeway in planned.leeway:
        if leeway.move == move and leeway.low <= target <= leeway.high:
            return scale(leeway.low), scale(leeway.high)
    return scale(target) - USUAL_LEEWAY[move], scale(target) + USUAL_LEEWAY[move]


def _contributions(planned: PlannedSetup) -> dict[str, float]:
    gains = {r.move: max(0.0, r.contribution) for r in planned.reasons}
    total = sum(gains.values())
    return {move: gain / total for move, gain in gains.items()} if total > 0 else {}
