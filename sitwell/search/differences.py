"""How far two set-ups really differ: for whoever looks at the pictures, or sits for them.

Each difference is counted in the smallest change that tells; these are design choices. A nudge of
a dial that no one sees makes no other set-up.
"""

import math

from sitwell.base.rotations import direction_from_angles
from sitwell.scene.setup import Setup
from sitwell.search.group import GroupSetup

# The pose as the picture shows it: a lowered chin before a lowered camera is the same picture.
# A camera 120 mm higher at 1.8 m is seen as the chin 4 degrees down.
SEEN_DEG = {"turn": 7.0, "chin": 4.0, "tilt": 5.0}
KEY_DEG = 25.0  # the key's direction; also where it only crosses to the other side
CROSSED_DEG2 = 100.0  # ten degrees or more to either side of the lens
LENS_RATIO = 1.2  # focal length or distance
APERTURE_STOPS, BACKGROUND_STOPS = 3.0, 2.0  # less of it is the same picture, a little other
SIZE_STOPS = 1.0  # the light's breadth, twice or half


def differences(first: GroupSetup, second: GroupSetup) -> dict[str, float]:
    """Each difference by name, of whom it is largest, 1 = it just tells.

    Lens, crop and light count once however far they go; so do the background's tone and softness
    together, which make the same picture look other but are no other approach. Another order of
    people always tells.
    """
    each = [lone_differences(first.own(i), second.own(i)) for i in range(len(first.places))]
    found = {name: max(own[name] for own in each) for name in each[0]}
    return found | {"order": 2.0 * (first.left_to_right() != second.left_to_right())}


def lone_differences(first: Setup, second: Setup) -> dict[str, float]:
    """The same of one sitter's set-ups."""
    found = {
        name: abs(one - other) / step_deg
        for (name, step_deg), one, other in zip(
            SEEN_DEG.items(), first.seen_pose_deg(), second.seen_pose_deg(), strict=True
        )
    }
    focal, distance, size = (
        abs(math.log(getattr(first, name) / getattr(second, name)))
        for name in ("focal_mm", "distance_mm", "key_size_mm")
    )
    aperture = 2.0 * abs(math.log2(first.f_number / second.f_number)) / APERTURE_STOPS
    tone = abs(first.background_stops - second.background_stops) / BACKGROUND_STOPS
    return found | {
        "key": _key(first, second),
        "lens": min(1.0, max(focal, distance) / math.log(LENS_RATIO)),
        "light": min(1.0, size / math.log(2.0) / SIZE_STOPS),
        "crop": float(first.crop != second.crop),
        "ground": min(1.0, max(aperture, tone)),
    }


def apart(first: GroupSetup, second: GroupSetup) -> float:
    """How far two set-ups are on the way to really differing, 1 = they do for one who sits.

    They do with two differences that tell, or one twice as large.
    """
    if first.left_to_right() != second.left_to_right():
        return 1.0
    return max(lone_apart(first.own(i), second.own(i)) for i in range(len(first.places)))


def lone_apart(first: Setup, second: Setup) -> float:
    """The same of one sitter's set-ups."""
    small, large = sorted(lone_differences(first, second).values())[-2:]
    return min(1.0, max(small, large / 2.0))


def _key(first: Setup, second: Setup) -> float:
    one, other = (
        direction_from_angles(setup.key_azimuth_deg, setup.key_elevation_deg)
        for setup in (first, second)
    )
    angle_deg = math.degrees(math.acos(min(1.0, max(-1.0, float(one @ other)))))
    crossed = first.key_azimuth_deg * second.key_azimuth_deg <= -CROSSED_DEG2
    return max(angle_deg / KEY_DEG, float(crossed))
