"""The room: how far one can step back, how high and wide it is, and its own light, if any.

Outdoors is a room without walls and ceiling, where the sun or the open sky is the key.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from sitwell.base.errors import RoomError
from sitwell.base.words import tr
from sitwell.brief.kit import Kit, LightSource
from sitwell.brief.place_light import (
    SHADE_RATIO,
    SUN_HEIGHTS_DEG,
    Daylight,
    Window,
    daylight_from_room,
    shade_light,
    sun_light,
    window_light,
)
from sitwell.brief.tables import Table, from_preset_or_file


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """A room in millimetres; ``background_stops`` is the range its background can be given.

    ``depth_mm`` is the longest way from the lens to the sitter's eyes. Stops count against the
    lit cheek, 0 = as bright. ``daylight`` is a key that stands where it stands; ``kit_lights``
    says whether the kit's lights may be the key here as well.
    """

    name: str
    depth_mm: float = 4000.0
    background_distance_mm: float = 1500.0
    ceiling_mm: float = 2600.0
    width_mm: float = 4000.0
    background_stops: tuple[float, float] = (-4.0, 0.0)
    daylight: Daylight | None = None
    kit_lights: bool = True
    outdoors: bool = False


# Outdoors these are how far one can walk and what is looked at, no walls.
_OUTDOORS = {"depth_mm": 12000.0, "width_mm": 24000.0, "ceiling_mm": 20000.0}
_OUT_BACKGROUND_MM = 8000.0
_OUT_TONES = (-4.0, 0.5)

PRESETS: Mapping[str, Room] = {
    room.name: room
    for room in (
        Room(
            name="studio",
            depth_mm=6000.0,
            background_distance_mm=2000.0,
            ceiling_mm=3200.0,
            width_mm=5000.0,
            background_stops=(-5.0, 1.0),
        ),
        Room(name="living-room"),
        Room(
            name="small-room",
            depth_mm=2200.0,
            background_distance_mm=700.0,
            ceiling_mm=2400.0,
            width_mm=2800.0,
            background_stops=(-2.5, -0.5),
        ),
        Room(
            name="by-a-window",
            daylight=Daylight(
                light=window_light(Window(width_mm=1200.0, height_mm=1400.0), (700.0, 2500.0))
            ),
            kit_lights=False,
        ),
        Room(
            name="outdoors",
            **_OUTDOORS,
            background_distance_mm=_OUT_BACKGROUND_MM,
            background_stops=_OUT_TONES,
            daylight=Daylight(light=sun_light(SUN_HEIGHTS_DEG)),
            kit_lights=False,
            outdoors=True,
        ),
        Room(
            name="open-shade",
            **_OUTDOORS,
            background_distance_mm=_OUT_BACKGROUND_MM,
            background_stops=_OUT_TONES,
            daylight=Daylight(light=shade_light(), unfilled_ratio=SHADE_RATIO),
            kit_lights=False,
            outdoors=True,
        ),
    )
}
DEFAULT_ROOM = PRESETS["studio"]


def lights_of(kit: Kit, room: Room) -> tuple[LightSource, ...]:
    """Every light that can be the key: the kit's where they may be set up, and the place's own."""
    own = (room.daylight.light,) if room.daylight else ()
    movable = [light for light in kit.lights if "key" in light.serves] if room.kit_lights else []
    return (*movable, *own)


def key_light(kit: Kit, room: Room, key_size_mm: float) -> LightSource:
    """The light that a key of this size is; the first one where none has it."""
    lights = lights_of(kit, room)
    return next((light for light in lights if light.size_mm == key_size_mm), lights[0])


def daylight_of(kit: Kit, room: Room, key_size_mm: float) -> Daylight | None:
    """The light that stays where a key of this size is one; None for a light that can be moved."""
    light, own = key_light(kit, room, key_size_mm), room.daylight
    if own is not None and light is own.light:
        return own
    return Daylight(light=light) if light.stays() else None


def load_room(source: Path | str) -> Room:
    """A preset by its name, or the room in a TOML file; RoomError says what to correct."""
    return from_preset_or_file(source, "room", PRESETS, _room, RoomError)


def _room(table: Table, name: str) -> Room:
    table.only(
        "name",
        "depth_mm",
        "background_distance_mm",
        "ceiling_mm",
        "width_mm",
        "background_stops",
        "kit_lights",
        "sun",
        "shade",
        "window",
    )
    daylight = daylight_from_room(table)
    outdoors = daylight is not None and daylight.light.kind() in ("sun", "shade")
    usual = PRESETS["outdoors"] if outdoors else Room(name="")
    kit_lights = table.values.get("kit_lights", not outdoors)
    if not isinstance(kit_lights, bool):
        raise RoomError(
            tr(
                "{where}: kit_lights is {kit_lights}; write true or false.",
                where=table.where,
                kit_lights=repr(kit_lights),
            )
        )
    return Room(
        name=table.text("name", name),
        depth_mm=table.number("depth_mm", usual.depth_mm),
        background_distance_mm=table.number("background_distance_mm", usual.background_distance_mm),
        ceiling_mm=table.number("ceiling_mm", usual.ceiling_mm),
        width_mm=table.number("width_mm", usual.width_mm),
        background_stops=table.span(
            "background_stops", usual.background_stops, low=-10.0, high=4.0
        ),
        daylight=daylight,
        kit_lights=kit_lights,
        outdoors=outdoors,
    )
