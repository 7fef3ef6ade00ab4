"""From a sitting's papers to the brief that flow.py takes, and what kit and room allow."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from sitwell.base.codec import to_plain
from sitwell.brief.comfort import Comfort
from sitwell.brief.kit import PRESETS as KITS
from sitwell.brief.kit import Kit, Lens, LightSource, load_kit
from sitwell.brief.request import Brief, SitterBrief
from sitwell.brief.room import PRESETS as ROOMS
from sitwell.brief.room import Room, key_light, lights_of, load_room
from sitwell.brief.wishes import HeightWish, Wish
from sitwell.scene.setup import Setup
from sitwell.scene.window import elevation_at_deg
from sitwell.store.record_bytes import from_plain
from sitwell.ui.web.paper import SitterNote, Sitting

# The finest step of each control; a degree where none is given.
STEPS = {
    "chin_forward_mm": 1.0,
    "camera_height_mm": 10.0,
    "distance_mm": 10.0,
    "f_number": 0.1,
    "key_distance_mm": 10.0,
    "fill_ratio": 0.1,
    "background_stops": 0.1,
}


def kit_of(sitting: Sitting) -> Kit:
    """The kit: a preset, or the preset with the photographer's own changes."""
    return from_plain(sitting.own_kit, Kit) if sitting.own_kit else load_kit(sitting.kit)


def room_of(sitting: Sitting) -> Room:
    """The room: a preset, or the preset with the photographer's own changes."""
    return from_plain(sitting.own_room, Room) if sitting.own_room else load_room(sitting.room)


def lamps_of(sitting: Sitting) -> dict[str, float | str]:
    """What is asked of the kit's lamps beside the key, as quantities that a search holds."""
    asked = sitting.rim_light and kit_of(sitting).light_for("rim") is not None
    return {"rim": "on"} if asked else {}


def keep_kit(sitting: Sitting, kit: Kit) -> None:
    """Write a changed kit into the papers; one that is a preset again is named only."""
    sitting.own_kit = {} if kit == KITS.get(sitting.kit) else to_plain(kit)


def keep_room(sitting: Sitting, room: Room) -> None:
    """Write a changed room into the papers; one that is a preset again is named only."""
    sitting.own_room = {} if room == ROOMS.get(sitting.room) else to_plain(room)


def let_sun_go(sitting: Sitting) -> None:
    """Forget where the sun stands: the plan chooses its height again, as in the preset."""
    keep_room(sitting, replace(room_of(sitting), daylight=load_room(sitting.room).daylight))


def sitter_asked(sitting: Sitting, sitter: SitterNote, folder: Path) -> SitterBrief:
    """What is asked for one sitter; ``folder`` holds our copies of the frames."""
    frames = {frame.id: folder / frame.file for frame in sitter.frames}
    alone = len(sitting.sitters) == 1
    return SitterBrief(
        name=sitter.label or (sitting.label if alone else ""),
        frames=tuple(frames.values()),
        marks={frame.file: dict(frame.marks) for frame in sitter.frames if frame.marks} or None,
        level=frames.get(sitter.level),
        faces={frame.file: frame.face for frame in sitter.frames if frame.face},
        in_the_way=tuple(sitter.in_the_way),
        without=tuple(sitter.without),
        wishes=wishes_of(sitter),
        limits=tuple(sitter.limits),
        height_mm=sitter.height_mm or None,
        glasses=sitter.glasses,
    )


def asked(sitting: Sitting, folder: Path, sitters: Sequence[SitterNote] | None = None) -> Brief:
    """What is asked for everybody who sits, or for some of them."""
    direction, weight = sitting.heights
    return Brief(
        sitters=tuple(
            sitter_asked(sitting, sitter, folder) for sitter in sitters or sitting.sitters
        ),
        height_difference=HeightWish(direction=direction, weight=int(weight)),
        kit=kit_of(sitting) if sitting.own_kit else sitting.kit,
        room=room_of(sitting) if sitting.own_room else sitting.room,
        framing=sitting.framing,
        aspect=sitting.aspect,
        rim=bool(lamps_of(sitting)),
    )


def comfort_of(sitter: SitterNote) -> Comfort:
    """What the sitter can do with ease, and how high their eyes are where that is known."""
    limits, height_mm = tuple(sitter.limits), sitter.height_mm or None
    return SitterBrief(limits=limits, height_mm=height_mm).comfort()


def wishes_of(sitter: SitterNote) -> tuple[Wish, ...]:
    """The sitter's wishes, in the order in which they were said; without the ``undecided``."""
    return tuple(
        Wish(feature=feature, direction=str(direction), weight=int(weight))
        for feature, (direction, weight) in sitter.wishes.items()
        if direction
    )


def undecided(sitter: SitterNote) -> tuple[str, ...]:
    """The features that the sitter named and whose way nobody has told yet."""
    return tuple(feature for feature, (direction, _) in sitter.wishes.items() if not direction)


def judge_parts(sitting: Sitting) -> tuple[tuple[Wish, ...], Kit, Room, Comfort]:
    """What a set-up of the sitter in hand is judged by."""
    return (
        wishes_of(sitting.sitter),
        kit_of(sitting),
        room_of(sitting),
        comfort_of(sitting.sitter),
    )


def usual_setup(sitting: Sitting) -> Setup:
    """A set-up to draw before there is a plan: the kit's first camera and lens, straight on."""
    kit, room = kit_of(sitting), room_of(sitting)
    focal_mm = kit.lenses[-1].focal_mm[0]
    light = next(iter(lights_of(kit, room)), None)
    setup = Setup(
        focal_mm=focal_mm,
        sensor_width_mm=kit.cameras[0].sensor_width_mm,
        sensor_height_mm=kit.cameras[0].sensor_height_mm,
        distance_mm=min(2000.0, room.depth_mm),
        background_distance_mm=room.background_distance_mm,
        framing=sitting.framing,
        aspect=sitting.aspect,
    )
    if light is None:
        return setup
    return replace(
        setup,
        key_size_mm=light.size_mm,
        key_distance_mm=sum(light.distance_mm) / 2,
        key_azimuth_deg=min(max(35.0, light.azimuth_deg[0]), light.azimuth_deg[1]),
        key_elevation_deg=min(max(30.0, light.elevation_deg[0]), light.elevation_deg[1]),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """How far one control goes, and its smallest step."""

    low: float
    high: float
    step: float

    def nearest(self, value: float) -> float:
        """The value within reach that comes nearest, on the control's own steps."""
        stepped = self.low + round((value - self.low) / self.step) * self.step
        return round(min(max(stepped, self.low), self.high), 3)


def reaches(sitting: Sitting, setup: Setup) -> dict[str, Reach]:
    """What kit, room and the sitter's comfort allow each move of a set-up."""
    kit, room, comfort = kit_of(sitting), room_of(sitting), comfort_of(sitting.sitter)
    lens = lens_for(kit, setup.focal_mm)
    light = light_for(kit, room, setup)
    spans = {
        "turn_deg": comfort.turn_deg,
        "chin_deg": comfort.chin_deg,
        "tilt_deg": comfort.tilt_deg,
        "chin_forward_mm": comfort.chin_forward_mm,
        "camera_height_mm": comfort.camera_height_mm,
        "distance_mm": (lens.closest_focus_mm, room.depth_mm),
        "f_number": (lens.widest_f_at(setup.focal_mm), lens.smallest_f),
        "key_azimuth_deg": light.azimuth_deg,
        # a window's height follows from its distance
        "key_elevation_deg": (setup.key_elevation_deg,) * 2
        if light.middle_mm
        else light.elevation_deg,
        "key_distance_mm": light.distance_mm,
        "fill_ratio": kit.fill_ratio,
        "background_stops": room.background_stops,
    }
    return {
        name: Reach(low=min(low, getattr(setup, name)), high=max(high, getattr(setup, name)),
                    step=STEPS.get(name, 1.0))
        for name, (low, high) in spans.items()
    }  # fmt: skip


def carried(sitting: Sitting, setup: Setup, changes: Mapping[str, Any]) -> dict[str, Any]:
    """What is moved, and what it carries along: nearer to a window its light comes from higher."""
    light = light_for(kit_of(sitting), room_of(sitting), setup)
    if light.middle_mm is None or "key_distance_mm" not in changes:
        return dict(changes)
    rise_mm = light.middle_mm - comfort_of(sitting.sitter).eyes_above_floor_mm
    elevation_deg = elevation_at_deg(rise_mm, float(changes["key_distance_mm"]))
    return dict(changes) | {"key_elevation_deg": elevation_deg}


def lens_for(kit: Kit, focal_mm: float) -> Lens:
    """The lens of the kit that gives a focal length; the last one where none does."""
    return next(
        (lens for lens in kit.lenses if lens.focal_mm[0] <= focal_mm <= lens.focal_mm[1]),
        kit.lenses[-1],
    )


def has_key(sitting: Sitting) -> bool:
    """Whether anything of kit and room can be the key."""
    return bool(lights_of(kit_of(sitting), room_of(sitting)))


def light_for(kit: Kit, room: Room, setup: Setup) -> LightSource:
    """The light that a set-up's key is; the first one where none has its size."""
    return key_light(kit, room, setup.key_size_mm)


def focal_choices_mm(kit: Kit) -> tuple[float, ...]:
    """Every focal length the kit can be set to."""
    return tuple(sorted({focal for lens in kit.lenses for focal in lens.focal_choices_mm()}))
