"""The room: how far one can step back, how high and wide it is, and a window that can't move."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from sitwell.base.errors import RoomError
from sitwell.brief.kit import Kit, LightSource, light_from_table
from sitwell.brief.tables import Table, read_table


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """A room in millimetres; ``background_stops`` is the range its background can be given.

    ``depth_mm`` is the longest way from the lens to the sitter's eyes. Stops count against the
    lit cheek, 0 = as bright. ``window`` is a key that stands where it stands.
    """

    name: str
    depth_mm: float = 4000.0
    background_distance_mm: float = 1500.0
    ceiling_mm: float = 2600.0
    width_mm: float = 4000.0
    background_stops: tuple[float, float] = (-4.0, 0.0)
    window: LightSource | None = None


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
    )
}
DEFAULT_ROOM = PRESETS["studio"]


def key_light(kit: Kit, room: Room, key_size_mm: float) -> LightSource:
    """The light that a key of this size is; the first one where none has it."""
    lights = (*kit.lights, *((room.window,) if room.window else ()))
    return next((light for light in lights if light.size_mm == key_size_mm), lights[0])


def load_room(source: Path | str) -> Room:
    """A preset by its name, or the room in a TOML file; RoomError says what to correct."""
    if str(source) in PRESETS:
        return PRESETS[str(source)]
    path = Path(source)
    if not path.suffix and not path.exists():
        raise RoomError(
            f"The room '{source}' is neither a file nor a preset; choose one of "
            f"{', '.join(PRESETS)} or give a TOML file."
        )
    return _room(read_table(path, "room", RoomError), path.stem)


def _room(table: Table, name: str) -> Room:
    table.only(
        "name",
        "depth_mm",
        "background_distance_mm",
        "ceiling_mm",
        "width_mm",
        "background_stops",
        "window",
    )
    window = table.table("window")
    return Room(
        name=table.text("name", name),
        depth_mm=table.number("depth_mm", 4000.0),
        background_distance_mm=table.number("background_distance_mm", 1500.0),
        ceiling_mm=table.number("ceiling_mm", 2600.0),
        width_mm=table.number("width_mm", 4000.0),
        background_stops=table.span("background_stops", (-4.0, 0.0), low=-10.0, high=4.0),
        window=None if window is None else light_from_table(window),
    )
