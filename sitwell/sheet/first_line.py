"""A set-up in one line to the photographer: what the sitter does, where key and lens are."""

from collections.abc import Mapping

from sitwell.base.units import length_words
from sitwell.base.words import joined, mark, tr
from sitwell.scene.ear_measures import GONE_OUT, GONE_SHOW
from sitwell.scene.setup import Setup
from sitwell.sheet.settings import STRAIGHT_DEG
from sitwell.sheet.words import LEAST_DEG, LEAST_FORWARD_MM, SMALL_STEPS, TURN_STEPS, step_words

SEEN_SHARE = 0.01  # of the face: so much of an ear was there to be lost
HAND_MM = 100.0  # a hand's breadth, from memory
MOST_HANDS = 3  # beyond them a tape is surer
LEAST_HEIGHT_MM = 50.0

STRAIGHT_ON = mark("Nose to the lens")
TURN_UNTIL = (
    mark("Turn to own right until the far ear is gone"),
    mark("Turn to own left until the far ear is gone"),
)
TURN_BY = (mark("Turn to own right, {amount}"), mark("Turn to own left, {amount}"))
TURN_SOME = (mark("Turn to own right, {angle}°"), mark("Turn to own left, {angle}°"))
CHIN_UP, CHIN_DOWN = mark("chin up, {amount}"), mark("chin down, {amount}")
LEAN = (mark("lean to own right, {amount}"), mark("lean to own left, {amount}"))
FORWARD = mark("forehead toward the lens")
KEY_SIDES = (mark("key on camera left"), mark("key on camera right"))
KEY_OVER = mark("key over the lens")
KEY_AT = mark("key at the lens")
LIGHTS = {
    "sun": (mark("sun on camera left"), mark("sun on camera right"), mark("sun behind the camera")),
    "shade": (
        mark("open sky on camera left"),
        mark("open sky on camera right"),
        mark("open sky behind the camera"),
    ),
    "window": (
        mark("window on camera left"),
        mark("window on camera right"),
        mark("window behind the camera"),
    ),
}
HANDS_UP = (
    mark("lens a hand higher"),
    mark("lens two hands higher"),
    mark("lens three hands higher"),
)
HANDS_DOWN = (
    mark("lens a hand lower"),
    mark("lens two hands lower"),
    mark("lens three hands lower"),
)
LENS_UP, LENS_DOWN = mark("lens {length} above the eyes"), mark("lens {length} below the eyes")
LENS_LEVEL = mark("lens level with the eyes")
CUT_HIGH = mark("crop into the forehead")


def first_line(
    setup: Setup,
    measures: Mapping[str, float],
    straight_on: Mapping[str, float],
    light: str = "",
    *,
    discreet: bool = False,
) -> str:
    """The line, without numbers where words do.

    ``measures`` are the set-up's and ``straight_on`` the plain frame's; ``light`` is what the key
    is where it stays. A ``discreet`` one names nothing that tells of a wish.
    """
    own = {} if discreet else measures
    parts = (
        _turn(setup, own, straight_on),
        _amount(setup.chin_deg, CHIN_DOWN, CHIN_UP),
        tr(FORWARD) if setup.chin_forward_mm >= LEAST_FORWARD_MM else "",
        _amount(setup.tilt_deg, *LEAN),
        _key(setup, light),
        _lens(setup.camera_height_mm),
        tr(CUT_HIGH) if setup.crop == "into-forehead" else "",
    )
    return tr("{parts}.", parts=joined([part for part in parts if part], ", "))


def shared_line(setup: Setup, light: str = "") -> str:
    """The line of a set-up for several: what they share, key and lens and crop."""
    parts = (
        _key(setup, light),
        _lens(setup.camera_height_mm),
        tr(CUT_HIGH) if setup.crop == "into-forehead" else "",
    )
    return tr("{Parts}.", parts=joined([part for part in parts if part], ", "))


def _turn(setup: Setup, measures: Mapping[str, float], straight_on: Mapping[str, float]) -> str:
    turn_deg = setup.turn_deg
    if abs(turn_deg) < LEAST_DEG:
        return tr(STRAIGHT_ON)
    to_left = turn_deg > 0
    far = "own_left" if to_left else "own_right"
    gone = measures.get(f"ear_show_{far}", 1.0) <= GONE_SHOW
    gone &= measures.get(f"ear_out_{far}", 1.0) <= GONE_OUT
    if gone and straight_on.get(f"ear_show_{far}", 0.0) >= SEEN_SHARE:
        return tr(TURN_UNTIL[to_left])
    if abs(turn_deg) <= TURN_STEPS[-1][0]:
        return tr(TURN_BY[to_left], amount=step_words(turn_deg, TURN_STEPS))
    return tr(TURN_SOME[to_left], angle=f"{abs(turn_deg):.0f}")


def _amount(amount_deg: float, negative: str, positive: str) -> str:
    if abs(amount_deg) < LEAST_DEG:
        return ""
    told = positive if amount_deg > 0 else negative
    return tr(told, amount=step_words(amount_deg, SMALL_STEPS))


def _key(setup: Setup, light: str) -> str:
    azimuth_deg = setup.key_azimuth_deg
    over = KEY_OVER if abs(setup.key_elevation_deg) >= STRAIGHT_DEG else KEY_AT
    left, right, middle = LIGHTS.get(light, (*KEY_SIDES, over))
    if abs(azimuth_deg) < STRAIGHT_DEG:
        return tr(middle)
    return tr(right if azimuth_deg > 0 else left)


def _lens(height_mm: float) -> str:
    amount_mm, up = abs(height_mm), height_mm > 0
    if amount_mm < LEAST_HEIGHT_MM:
        return tr(LENS_LEVEL)
    hands = max(round(amount_mm / HAND_MM), 1)
    if hands <= MOST_HANDS:
        return tr((HANDS_UP if up else HANDS_DOWN)[hands - 1])
    return tr(LENS_UP if up else LENS_DOWN, length=length_words(amount_mm))
