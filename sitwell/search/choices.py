"""The discrete choices of a search: lens, focal length, crop and light, each with its ranges.

Framing fixes the distance once the lens is chosen; a choice that doesn't fit the room is left out.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from sitwell.base.errors import KitError, RoomError, SetupError
from sitwell.base.units import distance_words
from sitwell.base.words import tr
from sitwell.brief.comfort import Comfort
from sitwell.brief.kit import Camera, Kit, Lens, LightSource
from sitwell.brief.room import Room, lights_of
from sitwell.scene.framing import FRAMINGS, distance_for_framing
from sitwell.scene.setup import ASPECTS, CROPS, ID_ASPECT, SWITCHES, Setup
from sitwell.scene.window import elevation_at_deg
from sitwell.search.lamps import RIM_NAMES, no_key, wants_rim
from sitwell.search.moves import MOVES

Vector = NDArray[np.float64]
NEAREST_MM = 900.0  # under it a face shows stretch (common practice, no source)
WIDEST_EQUIVALENT_MM = 35.0  # the same for the lens
USUAL_EQUIVALENT_MM = 85.0
# How high a camera stands above the floor without lying down or a ladder (common practice, no
# source: a tripod's reach, and a photographer's arms).
CAMERA_MM = (400.0, 1950.0)
NEAR_MM, SHORT_EQUIVALENT_MM = 1200.0, 70.0  # nearer than this, a lens shorter than that stretches
STEEPEST = 0.45  # camera height over distance; a steeper look is another kind of picture
REFLECTED = 2.0  # the additive ratio with the fill as bright as the key
SMALLEST_USED_F = 11.0  # beyond it a portrait only gets softer (diffraction) and its ground sharper
_WORDS = {"crop": CROPS, "rim": SWITCHES, "background_light": SWITCHES}
SETUP_NAMES = (*(move.name for move in MOVES), "distance_mm", "focal_mm")


@dataclass(frozen=True, slots=True, kw_only=True)
class Means:
    """What there is to work with: kit, room, the sitter's comfort, and what was fixed by hand."""

    kit: Kit
    room: Room
    comfort: Comfort
    locked: Mapping[str, float | str]

    @property
    def camera(self) -> Camera:
        """The camera in use: the kit's first."""
        return self.kit.cameras[0]

    @property
    def lights(self) -> tuple[LightSource, ...]:
        """What may be the key: the kit's lights but the rim light, and the room's own."""
        rim = self.rim_lamp
        return tuple(light for light in lights_of(self.kit, self.room) if light is not rim)

    @property
    def rim_lamp(self) -> LightSource | None:
        """The kit's light for the rim light that the photographer asks for; None without one."""
        return self.kit.light_for("rim") if wants_rim(self.locked) else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One discrete choice: lens, focal length, crop and light, with the distance they give.

    ``rise_mm`` is how far a window's middle stands above the eyes; the key's height follows from it
    and the key's distance. None for a light that has a height of its own.
    """

    lens: Lens
    focal_mm: float
    crop: str
    light: LightSource
    distance_mm: float
    low: Vector = field(compare=False)
    high: Vector = field(compare=False)
    rise_mm: float | None = None

    def lit(self, setup: Setup) -> Setup:
        """The set-up with the key as high as its distance from a window leaves it."""
        if self.rise_mm is None:
            return setup
        elevation_deg = elevation_at_deg(self.rise_mm, setup.key_distance_mm)
        return setup.with_changes(key_elevation_deg=elevation_deg)


def check_request(means: Means, framing: str, aspect: str) -> None:
    """SetupError for a framing, an aspect or a fixed quantity that can't be."""
    for what, name, known in (("framing", framing, tuple(FRAMINGS)), ("aspect", aspect, ASPECTS)):
        if name not in (*known, ID_ASPECT if what == "aspect" else ""):
            raise SetupError(
                tr(
                    "The {what} '{name}' is not known; choose {known}.",
                    what=what,
                    name=name,
                    known=", ".join(known),
                )
            )
    fixable = (*SETUP_NAMES, *_WORDS, *RIM_NAMES, "background_light_distance_mm")
    for name, value in means.locked.items():
        if name not in fixable:
            raise SetupError(
                tr(
                    "'{name}' can't be fixed; fix one of {known}.",
                    name=name,
                    known=", ".join(fixable),
                )
            )
        words = _WORDS.get(name, ())
        if not (value in words if words else _is_number(value)):
            raise SetupError(
                tr(
                    "{name} can't be fixed at {value}; give {wanted}.",
                    name=name,
                    value=repr(value),
                    wanted=" or ".join(words) or "a number",
                )
            )
    if wants_rim(means.locked) and means.rim_lamp is None:
        raise KitError(
            tr(
                "The kit '{kit}' has no light to be the rim light; write serves = [\"rim\"] "
                "under one of its lights, or plan without.",
                kit=means.kit.name,
            )
        )


def make_choices(means: Means, plain: Setup, crops: Sequence[str]) -> tuple[Choice, ...]:
    """Every lens, crop and light that fits the room; KitError or RoomError when none does."""
    if not means.lights:
        raise no_key(means.kit, means.room)
    allowed = (str(means.locked["crop"]),) if "crop" in means.locked else tuple(crops)
    return tuple(
        _choice(means, lens, focal_mm, distance_mm, crop, light)
        for lens, focal_mm, distance_mm in _standing_places(means, plain)
        for crop in allowed
        for light in means.lights
    )


def usual_choice(means: Means, choices: Sequence[Choice]) -> int:
    """The choice that stands for habit: nearest to a usual portrait lens, the whole head."""

    def strangeness(index: int) -> tuple[float, bool]:
        choice = choices[index]
        equivalent_mm = means.camera.equivalent_mm(choice.focal_mm)
        return abs(math.log(equivalent_mm / USUAL_EQUIVALENT_MM)), choice.crop != "whole-head"

    return min(range(len(choices)), key=strangeness)


def _standing_places(means: Means, plain: Setup) -> list[tuple[Lens, float, float]]:
    """Lens, focal length and distance of each way to frame the picture in this room."""
    places = [
        (lens, focal_mm, _distance_mm(means, plain, lens, focal_mm))
        for lens in means.kit.lenses
        for focal_mm in _focal_choices_mm(lens, means.locked)
    ]
    if not places:
        raise KitError(
            tr(
                "No lens of the kit '{kit}' gives focal_mm {focal_mm}; fix another focal length "
                "or add the lens.",
                kit=means.kit.name,
                focal_mm=means.locked["focal_mm"],
            )
        )
    fitting = [place for place in places if place[2] <= means.room.depth_mm]
    if not fitting:
        lens, _, distance_mm = min(places, key=lambda place: place[2])
        raise RoomError(
            tr(
                "{framing} needs {length} with the {lens}, but the room '{room}' allows "
                "{depth} (depth_mm {depth_mm}); choose a closer framing, a shorter lens or a "
                "deeper room.",
                framing=plain.framing,
                length=distance_words(distance_mm),
                lens=lens.name,
                room=means.room.name,
                depth=distance_words(means.room.depth_mm),
                depth_mm=f"{means.room.depth_mm:g}",
            )
        )
    least_mm = WIDEST_EQUIVALENT_MM - 0.5
    proper = [place for place in fitting if means.camera.equivalent_mm(place[1]) >= least_mm]
    return proper or fitting


def _distance_mm(means: Means, plain: Setup, lens: Lens, focal_mm: float) -> float:
    if "distance_mm" in means.locked:
        return float(means.locked["distance_mm"])
    framed_mm = distance_for_framing(plain.with_changes(focal_mm=focal_mm))
    # Nearer than this a face stretches or blurs: step back and crop the picture instead.
    return max(math.ceil(framed_mm / 10.0) * 10.0, NEAREST_MM, lens.closest_focus_mm)


def _focal_choices_mm(lens: Lens, locked: Mapping[str, float | str]) -> tuple[float, ...]:
    if "focal_mm" not in locked:
        return lens.focal_choices_mm()
    focal_mm = float(locked["focal_mm"])
    return (focal_mm,) if lens.focal_mm[0] <= focal_mm <= lens.focal_mm[1] else ()


def _choice(
    means: Means, lens: Lens, focal_mm: float, distance_mm: float, crop: str, light: LightSource
) -> Choice:
    rise_mm = _rise_mm(means, light)
    spans = _spans(means, lens, focal_mm, distance_mm, light)
    if rise_mm is not None:
        spans["key_elevation_deg"] = (0.0, 0.0)  # not searched: ``Choice.lit`` sets it
    fixed = {name: (float(means.locked[name]),) * 2 for name in spans if name in means.locked}
    spans |= fixed
    low = np.array([move.coordinate(spans[move.name][0]) for move in MOVES])
    high = np.array([move.coordinate(spans[move.name][1]) for move in MOVES])
    return Choice(
        lens=lens,
        focal_mm=focal_mm,
        crop=crop,
        light=light,
        distance_mm=distance_mm,
        low=low,
        high=np.maximum(low, high),
        rise_mm=rise_mm,
    )


def _rise_mm(means: Means, light: LightSource) -> float | None:
    if light.middle_mm is None or "key_elevation_deg" in means.locked:
        return None
    return light.middle_mm - means.comfort.eyes_above_floor_mm


def _spans(
    means: Means, lens: Lens, focal_mm: float, distance_mm: float, light: LightSource
) -> dict[str, tuple[float, float]]:
    comfort = means.comfort
    reach_mm = STEEPEST * distance_mm
    low_mm, high_mm = (
        max(comfort.camera_height_mm[0], min(CAMERA_MM[0] - comfort.eyes_above_floor_mm, 0.0)),
        min(comfort.camera_height_mm[1], max(CAMERA_MM[1] - comfort.eyes_above_floor_mm, 0.0)),
    )
    return {
        "turn_deg": comfort.turn_deg,
        "chin_deg": comfort.chin_deg,
        "tilt_deg": comfort.tilt_deg,
        "chin_forward_mm": comfort.chin_forward_mm,
        "camera_height_mm": (max(low_mm, -reach_mm), min(high_mm, reach_mm)),
        "f_number": (lens.widest_f_at(focal_mm), min(lens.smallest_f, SMALLEST_USED_F)),
        "key_azimuth_deg": light.azimuth_deg,
        "key_elevation_deg": light.elevation_deg,
        "key_distance_mm": light.distance_mm,
        "fill_ratio": _fill_span(means, light),
        "background_stops": means.room.background_stops,
    }


def _fill_span(means: Means, light: LightSource) -> tuple[float, float]:
    """Lighting ratios to choose from: no more contrast than the place's own light leaves.

    What a reflector returns of a light that stays is never more than that light.
    """
    low, high = means.kit.fill_ratio
    daylight = means.room.daylight
    if daylight is None or light != daylight.light:
        return low, high
    most = daylight.unfilled_ratio or math.inf
    return min(max(low, REFLECTED), most), min(max(high, REFLECTED), most)


def _is_number(value: object) -> bool:
    return isinstance(value, (int, float)) and math.isfinite(value)
