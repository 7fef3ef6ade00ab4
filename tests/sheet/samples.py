"""Invented plans and placeholder pictures for the tests of the sheet; no one's face."""

import numpy as np

from sitwell.scene.setup import Setup
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

LEEWAY = (
    Leeway(
        move="turn_deg",
        low=18.0,
        high=26.0,
        low_why="the far ear shows as a sliver",
        high_why="the nose reaches the far cheek",
    ),
    Leeway(
        move="chin_deg",
        low=4.0,
        high=9.0,
        low_why="a tenth of the gain is gone",
        high_why="the nostrils open",
    ),
    Leeway(move="tilt_deg", low=-8.0, high=1.0, low_why="eye_balance", high_why=""),
    Leeway(
        move="key_azimuth_deg",
        low=-52.0,
        high=-31.0,
        low_why="the far eye loses its catchlight",
        high_why="the nose is raked",
    ),
    Leeway(
        move="camera_height_mm",
        low=-200.0,
        high=-40.0,
        low_why="the nostrils open",
        high_why="a tenth of the gain is gone",
    ),
    Leeway(
        move="distance_mm",
        low=1500.0,
        high=2600.0,
        low_why="the face stretches",
        high_why="the room ends",
    ),
)
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


def planned(setup=TYPICAL, name="Short light, three-quarter view", **changes):
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
