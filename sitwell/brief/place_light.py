"""A place's own light: a window, the sun, open shade. It stays; sitter and camera go round it.

Each is a ``LightSource`` whose azimuth is free by walking alone. How bright daylight is, and where
the sun stands, is computed in ``scene``; what is typed here are a file's words.
"""

import math
from dataclasses import dataclass

from sitwell.base.errors import RoomError
from sitwell.base.words import tr
from sitwell.brief.kit import LightSource, light_from_table
from sitwell.brief.tables import Table

SUN_DIAMETER_DEG = 0.533  # mean, from memory
STAND_IN_MM = 10_000.0  # a key this far off, of the sun's apparent size, stands for the sun
# Open shade in clear weather at ISO 100, from two hours after sunrise to two before sunset: the
# table of exposure values after ANSI PH2.7-1986, liquisearch.com/exposure_value (read 2026-11-25).
SHADE_EXPOSURE_VALUE = 12.0
# Lower the sun is weak and soon behind something, higher it leaves the eyes in the brows' shade.
SUN_HEIGHTS_DEG = (10.0, 45.0)
# Open shade: as wide as a third of the sky, lower the deeper one stands in it (design choices).
SHADE_DISTANCE_MM = 6000.0
SHADE_SIZE_MM = 8000.0
SHADE_HEIGHTS_DEG = (25.0, 45.0)
SHADE_RATIO = 2.5  # without a reflector (design choice: open shade has little contrast)
WINDOW_EXPOSURE_VALUE = 9.0  # a sitter near a window by day (common practice, no source)
ROUND_DEG = (-90.0, 90.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Daylight:
    """The light of a place. ``unfilled_ratio`` is what the place itself fills up to (additive).

    ``bearing_deg`` is the compass bearing, from true north, in which it is seen, where known;
    ``when`` tells the moment planned for ("2026-11-25 15:00+01:00") and ``holds`` the times between
    which the sun stands about as high.
    """

    light: LightSource
    unfilled_ratio: float | None = None
    bearing_deg: float | None = None
    when: str = ""
    holds: tuple[str, str] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """A window's opening; ``sill_mm`` is its lower edge above the floor."""

    width_mm: float
    height_mm: float
    sill_mm: float = 900.0

    def __post_init__(self) -> None:
        """Refuse a window that lets nothing in."""
        for name in ("width_mm", "height_mm"):
            if not getattr(self, name) > 0:
                raise RoomError(
                    tr(
                        "The window's {name} is {value}; give a length above zero.",
                        name=name,
                        value=f"{getattr(self, name):g}",
                    )
                )

    @property
    def middle_mm(self) -> float:
        """Height of its middle above the floor."""
        return self.sill_mm + 0.5 * self.height_mm

    @property
    def area_mm2(self) -> float:
        """Area of the opening."""
        return self.width_mm * self.height_mm


def disc_mm(area_mm2: float) -> float:
    """Diameter of the disc of an area: a key's size."""
    return 2.0 * math.sqrt(area_mm2 / math.pi)


def sun_light(
    elevation_deg: tuple[float, float], exposure_value: float | None = None
) -> LightSource:
    """The sun at a height, or in a range of heights of which a time can be chosen.

    Its exposure follows from its height, unless one was metered.
    """
    return LightSource(
        name="sun",
        size_mm=2.0 * STAND_IN_MM * math.tan(math.radians(0.5 * SUN_DIAMETER_DEG)),
        distance_mm=(STAND_IN_MM, STAND_IN_MM),
        azimuth_deg=ROUND_DEG,
        elevation_deg=elevation_deg,
        exposure_value=exposure_value,
        daylight="sun",
    )


def shade_light(
    elevation_deg: tuple[float, float] = SHADE_HEIGHTS_DEG,
    exposure_value: float = SHADE_EXPOSURE_VALUE,
) -> LightSource:
    """The open side of the sky, for a sitter who stands in the shade of a house or of trees."""
    return LightSource(
        name="open sky",
        size_mm=SHADE_SIZE_MM,
        distance_mm=(SHADE_DISTANCE_MM, SHADE_DISTANCE_MM),
        azimuth_deg=ROUND_DEG,
        elevation_deg=elevation_deg,
        exposure_value=exposure_value,
        daylight="shade",
    )


def window_light(
    window: Window,
    distance_mm: tuple[float, float],
    exposure_value: float | None = WINDOW_EXPOSURE_VALUE,
) -> LightSource:
    """A window that sitter and camera go round; its height follows from the sitter's distance."""
    return LightSource(
        name="window",
        size_mm=disc_mm(window.area_mm2),
        distance_mm=distance_mm,
        azimuth_deg=ROUND_DEG,
        elevation_deg=(-30.0, 60.0),
        exposure_value=exposure_value,
        daylight="window",
        middle_mm=window.middle_mm,
    )


def daylight_from_room(table: Table) -> Daylight | None:
    """The light under [sun], [shade] or [window] of a room's file; RoomError for more than one."""
    makers = {"sun": _sun, "shade": _shade, "window": _window}
    given = [name for name in makers if name in table.values]
    if len(given) > 1:
        names = " and ".join(f"[{name}]" for name in given)
        raise RoomError(
            tr(
                "{where}: there are {names}; a sitter has one key, keep one.",
                where=table.where,
                names=names,
            )
        )
    for name in given:
        own = table.table(name)
        if own is not None:
            return makers[name](own)
    return None


def _sun(table: Table) -> Daylight:
    table.only("elevation_deg", "bearing_deg", "exposure_value", "unfilled_ratio")
    heights = table.span("elevation_deg", SUN_HEIGHTS_DEG, low=1.0, high=89.0)
    metered = None
    if "exposure_value" in table.values:
        metered = table.number("exposure_value", above=-10.0)
    return _placed(table, sun_light(heights, metered), None)


def _shade(table: Table) -> Daylight:
    table.only("elevation_deg", "bearing_deg", "exposure_value", "unfilled_ratio")
    heights = table.span("elevation_deg", SHADE_HEIGHTS_DEG, low=0.0, high=89.0)
    metered = table.number("exposure_value", SHADE_EXPOSURE_VALUE, above=-10.0)
    return _placed(table, shade_light(heights, metered), SHADE_RATIO)


def _window(table: Table) -> Daylight:
    """An opening with its place in the wall, or a light seen from a camera that can't go round."""
    if "size_mm" in table.values or "azimuth_deg" in table.values:
        return Daylight(light=light_from_table(table))
    table.only(
        "width_mm",
        "height_mm",
        "sill_mm",
        "distance_mm",
        "bearing_deg",
        "exposure_value",
        "unfilled_ratio",
    )
    window = Window(
        width_mm=table.number("width_mm"),
        height_mm=table.number("height_mm"),
        sill_mm=table.number("sill_mm", 900.0, above=-1e-9),
    )
    near_mm = max(0.5 * window.width_mm, 500.0)  # nearer it lights from everywhere
    reach_mm = table.span("distance_mm", (near_mm, max(2500.0, near_mm)), low=100.0, high=30000.0)
    metered = table.number("exposure_value", WINDOW_EXPOSURE_VALUE, above=-10.0)
    return _placed(table, window_light(window, reach_mm, metered), None)


def _placed(table: Table, light: LightSource, ratio: float | None) -> Daylight:
    if "unfilled_ratio" in table.values:
        ratio = table.number("unfilled_ratio", above=1.0)
    bearing = None
    if "bearing_deg" in table.values:
        bearing = table.span("bearing_deg", low=0.0, high=360.0)[0]
    return Daylight(light=light, unfilled_ratio=ratio, bearing_deg=bearing)
