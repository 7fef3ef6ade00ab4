"""An invented plan and an invented sight that keeps it, for the checks to be tried on."""

from sitwell.scene.setup import Setup
from sitwell.search.plan import Gain, GuardState, Leeway, PlannedSetup, Reason
from sitwell.shoot.frame_facts import Baseline, Expected, Sight

SETUP = Setup(turn_deg=20.0, chin_deg=4.0, key_azimuth_deg=35.0)
MEASURES = {
    "nose_break": 0.04,
    "ear_sliver": 0.0,
    "nostril_show": 0.002,
    "ear_show_own_right": 0.01,
    "lit_side": 0.6,
}


def guard(name, measure, limit, must_be):
    return GuardState(
        name=name,
        measure=measure,
        value=MEASURES[measure],
        limit=limit,
        must_be=must_be,
        holds=True,
    )


def leeway(move, low, high):
    return Leeway(move=move, low=low, high=high, low_why="", high_why="")


PLANNED = PlannedSetup(
    name="balanced",
    setup=SETUP,
    measures=MEASURES,
    gains=(Gain(wish="ears", measure="ear_show_own_right", was=0.05, becomes=0.01, gain=4.0),),
    guards=(
        guard("nose break", "nose_break", 0.0, "at least"),
        guard("ear sliver", "ear_sliver", 0.01, "at most"),
        guard("nostril show", "nostril_show", 0.004, "at most"),
    ),
    leeway=(leeway("turn_deg", 17.0, 25.0), leeway("chin_deg", 1.0, 8.0)),
    reasons=(
        Reason(move="turn_deg", from_value=0, to_value=20, contribution=3.0, sentence=""),
        Reason(move="chin_deg", from_value=0, to_value=4, contribution=1.0, sentence=""),
    ),
)
BASELINE = Baseline(
    eye_open={"own_left": 0.30, "own_right": 0.26}, gaze_deg=(-3.0, 8.0), squint=0.2, smile=0.4
)
EXPECTED = Expected(
    planned=PLANNED,
    baseline=BASELINE,
    focus_best={"near_eye": 10.0, "far_eye": 8.0, "ear": 6.0, "background": 2.0},
    glasses=True,
    asked=("ears", "lively-eyes"),
)


def sight(**changes):
    """A sight that keeps the plan, with some of it changed."""
    kept = {
        "faces": 1,
        "moves": {"turn_deg": 20.0, "chin_deg": 4.0, "tilt_deg": 0.0},
        "measures": MEASURES,
        "eye_open": {"own_left": 0.29, "own_right": 0.25},
        "gaze_deg": (-1.0, 6.0),
        "focus": {"near_eye": 9.5, "far_eye": 7.0, "ear": 5.0, "background": 1.0},
        "lit_stops": 0.8,
        "ear_stops": {"own_left": 0.2, "own_right": 0.5},
        "heights": {"top": 2.3, "bottom": -0.8, "hairline": 1.5, "crown": 1.9},
        "skin_clipped": 0.001,
        "glare": {"own_left": 0.01, "own_right": 0.0},
        "squint": 0.25,
        "smile": 0.4,
    }
    return Sight(**(kept | changes))
