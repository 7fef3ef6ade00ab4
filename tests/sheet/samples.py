"""Invented plans and placeholder pictures for the tests of the sheet; no one's face."""

import numpy as np
from hypothesis import strategies as st

from sitwell.scene.setup import ASPECTS, CROPS, FRAMINGS, GAZES, Setup
from sitwell.search.plan import Conflict, Gain, GuardState, Leeway, Plan, PlannedSetup, Reason


def picture(width=480, height=600, turn=0.0):
    """A grey egg on a darker ground, turned by shifting its light: a placeholder."""
    y, x = np.mgrid[0:height, 0:width]
    u, v = (x - width / 2) / (0.3 * width), (y - height * 0.48) / (0.34 * height)
    radius = u**2 + v**2
    light = np.clip(0.55 + 0.4 * np.sqrt(np.clip(1 - radius, 0, 1)) - 0.25 * (u + turn), 0.15, 1)
    grey = np.where(radius < 1, 40 + 190 * light, 78).astype(np.uint8)
    return np.repeat(grey[..., None], 3, axis=2)


TYPICAL = Setup(
    turn_deg=22.0,
    chin_deg=7.0,
    tilt_deg=-4.0,
    chin_forward_mm=15.0,
    camera_height_mm=-120.0,
    distance_mm=1800.0,
    key_azimuth_deg=-40.0,
    key_elevation_deg=32.0,
    f_number=2.8,
)

LOST = "a tenth of what the set-up does for the wishes would be lost"
RANGE = "the range set for this move ends here"
LIKENESS = "the light and the pose would stop being the ones planned"
LEEWAY = tuple(
    Leeway(move=move, low=low, high=high, low_why=low_why, high_why=high_why)
    for move, low, high, low_why, high_why in (
        ("turn_deg", 18.0, 26.0, "the far ear would show as a sliver", "the nose would leave the "
         "outline of the cheek, the lip line or the eye socket"),
        ("chin_deg", 4.0, 9.0, LOST, "the nostrils would open to the camera"),
        ("tilt_deg", -8.0, 1.0, "the eyes would look less even than straight on", LIKENESS),
        ("chin_forward_mm", 5.0, 30.0, LOST, LIKENESS),
        ("camera_height_mm", -200.0, -40.0, "the nostrils would open to the camera", LOST),
        ("f_number", 2.0, 4.5, "the near eye would lose focus", LOST),
        ("key_azimuth_deg", -55.0, -30.0, "neither eye would carry a catchlight", LOST),
        ("key_elevation_deg", 20.0, 45.0, LIKENESS, LIKENESS),
        ("key_distance_mm", 1200.0, 2200.0, "the key would stand in the lens’s view", LIKENESS),
        ("fill_ratio", 2.5, 5.0, LIKENESS, LIKENESS),
        ("background_stops", -3.0, -0.5, RANGE, LOST),
    )
)  # fmt: skip
GAINS = (
    Gain(wish="nose-length", measure="nose_length", was=0.47, becomes=0.43, gain=1.9),
    Gain(wish="ears", measure="ear_sliver", was=0.031, becomes=0.0, gain=3.4),
    Gain(wish="forehead", measure="forehead_share", was=0.36, becomes=0.33, gain=1.1),
)
GUARDS = (
    GuardState(
        name="nose stays inside the cheek",
        measure="nose_break_cheek",
        value=0.021,
        limit=0.0,
        must_be="at least",
        holds=True,
    ),
    GuardState(
        name="nostrils",
        measure="nostril_show",
        value=0.0041,
        limit=0.006,
        must_be="at most",
        holds=True,
    ),
    GuardState(
        name="catchlight in the far eye",
        measure="catchlight_own_left",
        value=0.0,
        limit=1.0,
        must_be="at least",
        holds=False,
    ),
)
REASONS = (
    Reason(
        move="turn_deg",
        from_value=0.0,
        to_value=22.0,
        contribution=2.4,
        sentence="Brings the ridge to a straight line and takes the far ear out of view.",
    ),
    Reason(
        move="camera_height_mm",
        from_value=0.0,
        to_value=-120.0,
        contribution=0.9,
        sentence="Shortens the nose and the forehead as the picture shows them.",
    ),
    Reason(
        move="key_azimuth_deg",
        from_value=35.0,
        to_value=-40.0,
        contribution=1.2,
        sentence="Lights the ridge from the side it does not lean to.",
    ),
)
CONFLICTS = (
    Conflict(
        first="nose-length",
        second="forehead",
        move="chin_deg",
        sentence="Chin up helps the nose and the forehead, until the nostrils open at 9°.",
    ),
)


def planned(setup=TYPICAL, name="balanced", **changes):
    parts = {
        "measures": {"nose_length": 0.43},
        "gains": GAINS,
        "guards": GUARDS,
        "leeway": LEEWAY,
        "reasons": REASONS,
        "notes": ("Size is from an assumed distance between the pupils of 63 mm.",),
    }
    return PlannedSetup(name=name, setup=setup, **(parts | changes))


def plan(*setups, conflicts=CONFLICTS, notes=()):
    return Plan(
        baseline=Setup(),
        baseline_measures={"nose_length": 0.47},
        setups=setups or (planned(),),
        conflicts=conflicts,
        notes=notes,
    )


angles = st.floats(-90.0, 90.0)
SETUPS = st.builds(
    Setup,
    turn_deg=st.floats(-95.0, 95.0),
    chin_deg=st.floats(-20.0, 25.0),
    tilt_deg=st.floats(-15.0, 15.0),
    chin_forward_mm=st.floats(0.0, 40.0),
    camera_height_mm=st.floats(-600.0, 600.0),
    distance_mm=st.floats(700.0, 9000.0),
    focal_mm=st.floats(20.0, 300.0),
    f_number=st.sampled_from((1.2, 2.8, 8.0, 22.0)),
    key_azimuth_deg=angles,
    key_elevation_deg=st.floats(0.0, 75.0),
    key_distance_mm=st.floats(400.0, 5000.0),
    key_size_mm=st.floats(50.0, 2500.0),
    fill_ratio=st.floats(1.0, 16.0),
    background_stops=st.floats(-6.0, 3.0),
    background_distance_mm=st.floats(200.0, 12000.0),
    framing=st.sampled_from(FRAMINGS),
    crop=st.sampled_from(CROPS),
    aspect=st.sampled_from(ASPECTS),
    gaze=st.sampled_from(GAZES),
)
GRID = tuple(
    Setup(
        turn_deg=turn,
        chin_deg=chin,
        tilt_deg=tilt,
        chin_forward_mm=forward,
        camera_height_mm=height,
        key_azimuth_deg=azimuth,
        distance_mm=distance,
    )
    for turn in (-80.0, -45.0, -14.0, 0.0, 3.0, 22.0, 30.0)
    for chin, tilt, forward in ((-12.0, 5.0, 0.0), (0.0, 0.0, 10.0), (16.0, -12.0, 35.0))
    for height, azimuth, distance in (
        (-450.0, -90.0, 900.0),
        (0.0, 0.0, 2000.0),
        (300.0, 45.0, 6000.0),
    )
)


def overlap(one, other):
    """Whether two boxes share more than an edge."""
    return (
        one.x < other.x + other.width
        and other.x < one.x + one.width
        and one.y < other.y + other.height
        and other.y < one.y + one.height
    )
