"""Where lamps beside the key stand: a rim light opposite the key, a light for the background.

The rim light is never searched: it is placed by rule for each set-up, so that a plan differs by
what serves the wishes. Places are common practice, no source.
"""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence

from sitwell.base.errors import KitError
from sitwell.base.words import tr
from sitwell.brief.kit import SERVES, Kit, LightSource
from sitwell.brief.room import Room
from sitwell.brief.wishes import Wish
from sitwell.scene.background import NEAR_ENOUGH_STOPS, spill_stops
from sitwell.scene.rim import CLEAR_DEG, rim_margin_deg, rim_place_mm
from sitwell.scene.setup import Setup
from sitwell.search import sentences as say

# Azimuth to either side and elevation, the most usual first: three quarters behind, above.
PLACES_DEG = ((140, 35), (130, 35), (120, 35), (130, 50), (150, 50), (110, 35), (110, 20))
USUAL_DISTANCE_MM = 1500.0
USUAL_BACKGROUND_MM = 1000.0  # from its lamp to the background
LAMP_DEPTH_MM = 200.0  # behind its face, toward the background
RIM_NAMES = (
    "rim_azimuth_deg",
    "rim_elevation_deg",
    "rim_distance_mm",
    "rim_size_mm",
    "rim_stops",
)

Locked = Mapping[str, float | str]


def wants_rim(locked: Locked) -> bool:
    """Whether the photographer asks for a rim light, outright or by fixing something of it."""
    return locked.get("rim", "on") == "on" and any(name in locked for name in ("rim", *RIM_NAMES))


def lamps_allowed(
    locked: Locked, wishes: Sequence[Wish]
) -> tuple[dict[str, float | str], tuple[str, ...]]:
    """What may stay fixed, and sentences on what is refused: no rim light behind thinning hair."""
    held = dict(locked)
    if not wants_rim(held) or all(wish.feature != "thinning-hair" for wish in wishes):
        return held, ()
    kept = {name: value for name, value in held.items() if name not in RIM_NAMES}
    return kept | {"rim": "off"}, (tr(say.NOTE_NO_RIM),)


def no_key(kit: Kit, room: Room) -> KitError:
    """Why nothing is left to be the key, and what helps; the rim light may have taken the last."""
    uses = [use for use in SERVES if any(use in light.serves for light in kit.lights)]
    names = {"kit": kit.name, "room": room.name}
    if not kit.lights:
        text = tr(
            "Neither the kit '{kit}' nor the room '{room}' has a light; add a [[light]] "
            "to the kit or a [window] to the room.",
            **names,
        )
    elif "key" not in uses:
        text = tr(
            "No light of the kit '{kit}' may be the key, only {uses}; write \"key\" among what "
            "one of them serves, or add another [[light]].",
            **names,
            uses=" + ".join(uses),
        )
    elif not room.kit_lights:
        text = tr(
            "The room '{room}' has no light of its own and lets none of the kit's be set up; add "
            "a [window] to it, or write kit_lights = true.",
            **names,
        )
    else:
        text = tr(
            "The kit '{kit}' has one light for the key and the rim light; add another "
            "[[light]], or plan without a rim light.",
            **names,
        )
    return KitError(text)


def rim_placed(
    setup: Setup,
    lamp: LightSource,
    room: Room,
    eyes_above_floor_mm: float,
    locked: Locked,
    price: Callable[[Setup], float] = lambda _: 0.0,
) -> Setup:
    """The set-up with its rim light on, at the first usual place that fits and is clear.

    Opposite the key; at camera right for a key in front. Where no place fits the room, keeps
    the lens clear and is free of any other ``price`` (degrees off the lens), the one that comes
    nearest to it, for the guards to tell of.
    """
    best, least = setup, -math.inf
    for there in rim_places(setup, lamp, locked):
        short = rim_short(there, room, eyes_above_floor_mm) - price(there)
        if short > least:
            best, least = there, short
        if short == 0.0:
            break
    return best


def rim_places(setup: Setup, lamp: LightSource, locked: Locked) -> Iterator[Setup]:
    """The set-up with its rim light at each usual place, the most usual first."""
    side = -1.0 if setup.key_azimuth_deg > 0.0 else 1.0
    fixed = {name: float(locked[name]) for name in RIM_NAMES if name in locked}
    nearest_mm, farthest_mm = lamp.distance_mm
    usual_mm = min(max(USUAL_DISTANCE_MM, nearest_mm), farthest_mm)
    for distance_mm in dict.fromkeys((usual_mm, nearest_mm)):
        for azimuth_deg, elevation_deg in PLACES_DEG:
            values = {
                "rim_azimuth_deg": side * azimuth_deg,
                "rim_elevation_deg": float(elevation_deg),
                "rim_distance_mm": distance_mm,
                "rim_size_mm": lamp.size_mm,
            }
            yield setup.with_changes(rim="on", **(values | fixed))


def rim_short(setup: Setup, room: Room, eyes_above_floor_mm: float) -> float:
    """By how much a rim light falls short of fitting the room and keeping the lens clear; 0 = not.

    A tenth of a metre weighs as much as a degree.
    """
    room_mm = rim_in_room_mm(setup, room, eyes_above_floor_mm)
    return min(room_mm / 100.0, rim_margin_deg(setup) - CLEAR_DEG, 0.0)


def rim_in_room_mm(setup: Setup, room: Room, eyes_above_floor_mm: float) -> float:
    """Least room that the rim light has to ceiling, walls, floor and background; inf when off."""
    if setup.rim == "off":
        return math.inf
    x, y, z = (float(value) for value in rim_place_mm(setup))
    half_mm = 0.5 * setup.rim_size_mm
    return min(
        room.ceiling_mm - eyes_above_floor_mm - y - half_mm,
        room.width_mm / 2.0 - abs(x) - half_mm,
        eyes_above_floor_mm + y - half_mm,
        setup.background_distance_mm + z - LAMP_DEPTH_MM,
    )


def with_background_light(
    setup: Setup, kit: Kit, *taken: LightSource | None, locked: Locked
) -> Setup:
    """The set-up with the kit's light for the background on, where the key's spill falls short.

    ``taken`` are the lights that are the key and the rim light already.
    """
    lamp = kit.light_for("background", *taken)
    short = setup.background_stops - spill_stops(setup) > NEAR_ENOUGH_STOPS
    if lamp is None or locked.get("background_light", "on" if short else "off") == "off":
        return setup
    nearest_mm, farthest_mm = lamp.distance_mm
    usual_mm = min(max(USUAL_BACKGROUND_MM, nearest_mm), farthest_mm)
    distance_mm = float(locked.get("background_light_distance_mm", usual_mm))
    return setup.with_changes(background_light="on", background_light_distance_mm=distance_mm)
