"""The photographer's kit: cameras, lenses and lights, as typed in a small TOML file or a preset.

Lengths in millimetres, angles in degrees; docs/kit.md shows the file. Presets are generic and
carry no make: their numbers are what such equipment commonly has (common practice, no source).
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from sitwell.base.errors import KitError
from sitwell.base.words import tr
from sitwell.brief.focal import FULL_FRAME_DIAGONAL_MM
from sitwell.brief.tables import Table, from_preset_or_file

# Marks engraved on zoom rings, so that a planned focal length can be set by eye.
ZOOM_MARKS_MM = (16.0, 18.0, 24.0, 28.0, 35.0, 50.0, 55.0, 70.0, 85.0, 105.0, 135.0, 200.0, 300.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Camera:
    """A camera body: the sensor's long and short side, and the highest ISO its owner accepts."""

    name: str
    sensor_width_mm: float
    sensor_height_mm: float
    highest_iso: float = 3200.0

    def equivalent_mm(self, focal_mm: float) -> float:
        """Focal length with the same diagonal angle of view on 36 x 24 mm (CIPA DCG-001)."""
        diagonal_mm = math.hypot(self.sensor_width_mm, self.sensor_height_mm)
        return focal_mm * FULL_FRAME_DIAGONAL_MM / diagonal_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Lens:
    """A prime (one focal length) or a zoom; ``widest_f`` is the f-number at each end.

    ``closest_focus_mm`` is counted from the lens to the sitter's eyes.
    """

    name: str
    focal_mm: tuple[float, float]
    widest_f: tuple[float, float]
    smallest_f: float = 16.0
    closest_focus_mm: float = 500.0

    def is_prime(self) -> bool:
        """Whether the lens has a single focal length."""
        return self.focal_mm[0] == self.focal_mm[1]

    def widest_f_at(self, focal_mm: float) -> float:
        """Widest f-number at a focal length, straight in the logarithm of both between the ends.

        Zooms open in steps of their own between the ends; the line is an estimate.
        """
        low_mm, high_mm = self.focal_mm
        if self.is_prime():
            return self.widest_f[0]
        share = math.log(focal_mm / low_mm) / math.log(high_mm / low_mm)
        share = min(max(share, 0.0), 1.0)
        return float(self.widest_f[0] ** (1 - share) * self.widest_f[1] ** share)

    def focal_choices_mm(self) -> tuple[float, ...]:
        """Focal lengths to choose from: a prime's own, or a zoom's ends and the marks between."""
        low_mm, high_mm = self.focal_mm
        inside = [mark for mark in ZOOM_MARKS_MM if low_mm < mark < high_mm]
        return tuple(sorted({low_mm, *inside, high_mm}))


SERVES = ("key", "rim", "background")  # what a light may be set up as
POWERS = ("guide_number_m_iso100", "watt_seconds", "lux_at_1m", "exposure_value")


@dataclass(frozen=True, slots=True, kw_only=True)
class LightSource:
    """A light; a range of no width is a light that can't be moved that way (a window).

    ``size_mm`` is the width of the lit face, ``distance_mm`` from it to the sitter's eyes.
    ``exposure_value`` is what a meter reads at the sitter at ISO 100, for a light that burns
    steadily; None for flash, whose duration replaces the shutter.

    Power is optional and given once: ``guide_number_m_iso100`` or ``watt_seconds`` for a flash,
    ``lux_at_1m`` on its axis for a lamp; ``modifier_loss_stops`` is what the softbox, umbrella or
    cloth before it takes. ``sync_speed_s`` is the shortest shutter time that still sees the flash.

    ``daylight`` is "sun", "shade" or "window" for a light that stands where it stands while sitter
    and camera go round it: its azimuth is free, but only by walking. ``middle_mm``, a window's, is
    the height of its middle above the floor, so that its elevation follows from its distance.

    ``serves`` is what it may be set up as: the key, a rim light behind the sitter, a light on the
    background. Azimuth and elevation are its range as a key; as a background's light its distance
    is counted to the background.
    """

    name: str
    size_mm: float
    distance_mm: tuple[float, float]
    azimuth_deg: tuple[float, float] = (-90.0, 90.0)
    elevation_deg: tuple[float, float] = (0.0, 60.0)
    exposure_value: float | None = None
    guide_number_m_iso100: float | None = None
    watt_seconds: float | None = None
    lux_at_1m: float | None = None
    modifier_loss_stops: float = 0.0
    sync_speed_s: float = 1.0 / 160.0
    daylight: str = ""
    middle_mm: float | None = None
    serves: tuple[str, ...] = ("key",)

    def __post_init__(self) -> None:
        """Refuse a light whose power is given twice, which would not agree."""
        given = [name for name in POWERS if getattr(self, name) is not None]
        if len(given) > 1:
            raise KitError(
                tr(
                    "The light '{name}' has {known}; give one of them, a flash has a guide "
                    "number or watt-seconds, a lamp has lux or an exposure value.",
                    name=self.name,
                    known=" and ".join(given),
                )
            )

    def is_flash(self) -> bool:
        """Whether it flashes; a light of which nothing is said is taken for one."""
        return not self.daylight and self.exposure_value is None and self.lux_at_1m is None

    def kind(self) -> str:
        """What sheets call it: "sun", "shade", "window" (any other that stays), "flash", "lamp"."""
        if self.stays():
            return self.daylight or "window"
        return "flash" if self.is_flash() else "lamp"

    def is_fixed(self) -> bool:
        """Whether the light's direction from the camera is given, so that only the sitter turns."""
        return self.azimuth_deg[0] == self.azimuth_deg[1]

    def stays(self) -> bool:
        """Whether nobody can move the light: sitter and camera move instead."""
        return bool(self.daylight) or self.is_fixed()


@dataclass(frozen=True, slots=True, kw_only=True)
class Kit:
    """All there is to choose from; the first camera and the first light are the usual ones."""

    name: str
    cameras: tuple[Camera, ...]
    lenses: tuple[Lens, ...]
    lights: tuple[LightSource, ...] = ()
    fill_ratio: tuple[float, float] = (1.5, 8.0)

    def light_for(self, use: str, *taken: LightSource | None) -> LightSource | None:
        """The light to set up for a use, those taken for another left out; None without one.

        One that serves nothing else comes first, so that the others stay free.
        """
        free = [x for x in self.lights if use in x.serves and all(x is not y for y in taken)]
        return min(free, key=lambda light: len(light.serves), default=None)

    def __post_init__(self) -> None:
        """Refuse a kit nobody could take a portrait with."""
        for what, things in (("camera", self.cameras), ("lens", self.lenses)):
            if not things:
                raise KitError(
                    tr(
                        "The kit '{name}' has no {what}; add a [[{what}]].",
                        name=self.name,
                        what=what,
                    )
                )


FULL_FRAME = Camera(name="full frame", sensor_width_mm=36.0, sensor_height_mm=24.0)
APS_C = Camera(name="APS-C", sensor_width_mm=23.5, sensor_height_mm=15.6)
FOUR_THIRDS = Camera(name="four thirds", sensor_width_mm=17.3, sensor_height_mm=13.0)


def _prime(focal_mm: float, widest_f: float, closest_focus_mm: float) -> Lens:
    return Lens(
        name=f"{focal_mm:g} mm prime",
        focal_mm=(float(focal_mm), float(focal_mm)),
        widest_f=(widest_f, widest_f),
        closest_focus_mm=float(closest_focus_mm),
    )


def _zoom(
    focal_mm: tuple[float, float], widest_f: tuple[float, float], closest_focus_mm: float
) -> Lens:
    return Lens(
        name=f"{focal_mm[0]:g}-{focal_mm[1]:g} mm zoom",
        focal_mm=(float(focal_mm[0]), float(focal_mm[1])),
        widest_f=widest_f,
        smallest_f=22.0,
        closest_focus_mm=float(closest_focus_mm),
    )


SOFTBOX = LightSource(name="90 cm softbox", size_mm=900.0, distance_mm=(900.0, 2500.0))
STRIP = LightSource(
    name="20 x 60 cm strip box",
    size_mm=390.0,  # of the disc of equal area
    distance_mm=(800.0, 2500.0),
    watt_seconds=200.0,
    modifier_loss_stops=1.5,
    serves=("rim",),
)
BACKGROUND_FLASH = LightSource(
    name="small flash with a dome",
    size_mm=100.0,
    distance_mm=(800.0, 2000.0),
    watt_seconds=60.0,
    modifier_loss_stops=1.0,
    serves=("background",),
)
UMBRELLA = LightSource(name="150 cm umbrella", size_mm=1500.0, distance_mm=(1500.0, 3500.0))
BARE_FLASH = LightSource(name="small flash", size_mm=80.0, distance_mm=(1200.0, 4000.0))
WINDOW_CAMERA_LEFT = LightSource(
    name="window at camera left",
    size_mm=1200.0,
    distance_mm=(1000.0, 2500.0),
    azimuth_deg=(-70.0, -70.0),
    elevation_deg=(15.0, 15.0),
    exposure_value=9.0,
)

PRESETS: Mapping[str, Kit] = {
    kit.name: kit
    for kit in (
        Kit(
            name="full-frame-primes",
            cameras=(FULL_FRAME,),
            lenses=(_prime(35, 1.8, 300), _prime(50, 1.8, 450), _prime(85, 1.8, 800)),
            lights=(SOFTBOX,),
        ),
        Kit(
            name="full-frame-zooms",
            cameras=(FULL_FRAME,),
            lenses=(_zoom((24, 70), (2.8, 2.8), 380), _zoom((70, 200), (2.8, 2.8), 1200)),
            lights=(UMBRELLA,),
        ),
        Kit(
            name="three-flashes",
            cameras=(FULL_FRAME,),
            lenses=(_prime(50, 1.8, 450), _prime(85, 1.8, 800)),
            lights=(
                replace(SOFTBOX, watt_seconds=400.0, modifier_loss_stops=1.5),
                STRIP,
                BACKGROUND_FLASH,
            ),
        ),
        Kit(
            name="aps-c-kit-zoom-window",
            cameras=(APS_C,),
            lenses=(_zoom((18, 55), (3.5, 5.6), 250),),
            lights=(WINDOW_CAMERA_LEFT,),
            fill_ratio=(1.5, 6.0),
        ),
        Kit(
            name="four-thirds-primes",
            cameras=(FOUR_THIRDS,),
            lenses=(_prime(25, 1.8, 250), _prime(45, 1.8, 500)),
            lights=(SOFTBOX,),
        ),
        Kit(
            name="one-35-mm-window",
            cameras=(FULL_FRAME,),
            lenses=(_prime(35, 2.0, 300),),
            lights=(WINDOW_CAMERA_LEFT,),
            fill_ratio=(1.5, 6.0),
        ),
        Kit(
            name="small-flash",
            cameras=(FULL_FRAME,),
            lenses=(_prime(50, 1.8, 450), _prime(105, 2.8, 900)),
            lights=(BARE_FLASH,),
        ),
    )
}
DEFAULT_KIT = PRESETS["full-frame-primes"]


def load_kit(source: Path | str) -> Kit:
    """A preset by its name, or the kit in a TOML file; KitError says what to correct."""
    return from_preset_or_file(source, "kit", PRESETS, _kit, KitError)


def light_from_table(table: Table) -> LightSource:
    """A light or a window from its table."""
    table.only(
        "name",
        "size_mm",
        "distance_mm",
        "azimuth_deg",
        "elevation_deg",
        *POWERS,
        "modifier_loss_stops",
        "sync_speed_s",
        "serves",
    )
    powers: dict[str, Any] = {
        name: table.number(name) for name in POWERS[:-1] if name in table.values
    }
    if "exposure_value" in table.values:
        powers["exposure_value"] = table.number("exposure_value", above=-10.0)
    return LightSource(
        name=table.text("name", "light"),
        size_mm=table.number("size_mm"),
        distance_mm=table.span("distance_mm", low=100.0, high=30000.0),
        azimuth_deg=table.span("azimuth_deg", (-90.0, 90.0), low=-180.0, high=180.0),
        elevation_deg=table.span("elevation_deg", (0.0, 60.0), low=-30.0, high=89.0),
        modifier_loss_stops=table.number("modifier_loss_stops", 0.0, above=-1e-9),
        sync_speed_s=_seconds(table, "sync_speed_s", 1.0 / 160.0),
        serves=table.words("serves", SERVES, ("key",)),
        **powers,
    )


def _seconds(table: Table, key: str, default: float) -> float:
    """A time in seconds, as a number or as a camera writes it: "1/160"."""
    value = table.values.get(key, default)
    if isinstance(value, str):
        over, _, under = value.partition("/")
        if over.strip() == "1" and under.strip().isdigit() and int(under) > 0:
            return 1.0 / int(under)
        raise table.error(
            tr(
                '{where}: {key} is {value}; write it as "1/160" or in seconds.',
                where=table.where,
                key=key,
                value=repr(value),
            )
        )
    return table.number(key, default)


def _kit(table: Table, name: str) -> Kit:
    table.only("name", "camera", "lens", "light", "fill")
    fill = table.table("fill")
    if fill is not None:
        fill.only("ratio")
    return Kit(
        name=table.text("name", name),
        cameras=tuple(map(_camera, table.tables("camera"))),
        lenses=tuple(map(_lens, table.tables("lens"))),
        lights=tuple(map(light_from_table, table.tables("light"))),
        fill_ratio=(1.5, 8.0) if fill is None else fill.span("ratio", low=1.0, high=64.0),
    )


def _camera(table: Table) -> Camera:
    table.only("name", "sensor_mm", "highest_iso")
    width_mm, height_mm = table.span("sensor_mm", low=1.0, high=200.0, descending=True)
    return Camera(
        name=table.text("name", "camera"),
        sensor_width_mm=max(width_mm, height_mm),
        sensor_height_mm=min(width_mm, height_mm),
        highest_iso=table.number("highest_iso", 3200.0),
    )


def _lens(table: Table) -> Lens:
    table.only("name", "focal_mm", "widest_f", "smallest_f", "closest_focus_mm")
    focal_mm = table.span("focal_mm", low=1.0, high=3000.0)
    widest_f = table.span("widest_f", low=0.5, high=64.0, descending=True)
    smallest_f = table.number("smallest_f", 16.0, above=max(widest_f))
    return Lens(
        name=table.text("name", "-".join(f"{end:g}" for end in sorted(set(focal_mm))) + " mm"),
        focal_mm=focal_mm,
        widest_f=widest_f,
        smallest_f=smallest_f,
        closest_focus_mm=table.number("closest_focus_mm", 500.0),
    )
