"""A light that stays, as drawn: the sun's disc, the open side of the sky, a window in its wall.

Sun and sky are too far off to be drawn to scale: they are brought in, in their true direction.
Where the light's bearing is known, an arrow shows where north lies.
"""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from sitwell.base.rotations import direction_from_angles
from sitwell.base.units import distance_words, plain_number
from sitwell.brief.place_light import Daylight
from sitwell.scene.setup import Setup
from sitwell.scene.sun import bearing_at
from sitwell.sheet import figures
from sitwell.sheet import sentences as s
from sitwell.sheet.ink import INK, KEY_FILL, KEY_INK, SOFT, Box, Canvas, Label
from sitwell.sheet.sentences import mark, say
from sitwell.sheet.settings import STRAIGHT_DEG
from sitwell.sheet.words import camera_side

Points = NDArray[np.float64]
Project = Callable[[Points], Points]

SUN, SKY, WINDOW = mark("sun"), mark("open sky"), mark("window")
NAMES = {"sun": SUN, "shade": SKY, "window": WINDOW}
HEIGHT = mark("{height}° up")
NORTH = mark("N")
ABOVE_AT, SIDE_AT = 1.25, 0.7  # of the camera's distance, in the two views
DRAWN_SIZE = 0.2
SUN_MM, RAY_MM, RAYS = 2.2, (3.1, 4.6), 8  # on the paper
SKY_DEG = 30.0
WALL_MM, WALL_DEPTH_MM = 700.0, 90.0
NORTH_MM = 9.0


def brought_in(setup: Setup, daylight: Daylight | None, *, above: bool) -> Setup:
    """The set-up as drawn: sun and sky near enough for the paper, in their own direction.

    From above they stand a little farther off than the camera, from the side nearer.
    """
    if daylight is None or daylight.light.kind() == "window":
        return setup
    reach_mm = SIDE_AT * setup.distance_mm
    if above:
        level = max(float(np.cos(np.radians(setup.key_elevation_deg))), 0.2)
        reach_mm = ABOVE_AT * setup.distance_mm / level
    return setup.with_changes(key_distance_mm=reach_mm, key_size_mm=DRAWN_SIZE * reach_mm)


def draw_light(
    canvas: Canvas, setup: Setup, project: Project, daylight: Daylight, *, above: bool
) -> None:
    """The light and its way to the eyes, from above or from the side."""
    away, front = figures.key_axis(setup)
    canvas.line(project(np.array([front, np.zeros(3)])), colour=KEY_INK, width=0.3, dash="1.4 0.9")
    kind = daylight.light.kind()
    if kind == "sun":
        _draw_sun(canvas, project(front))
    elif kind == "shade":
        _draw_sky(canvas, setup, project, above=above)
    else:
        _draw_window(canvas, setup, project, away, front, above=above)


def light_lines(setup: Setup, daylight: Daylight) -> list[str]:
    """What is said beside the light in the view from above."""
    kind = daylight.light.kind()
    lines = [say(NAMES[kind])]
    if kind == "window":
        lines.append(distance_words(setup.key_distance_mm))
    if abs(setup.key_azimuth_deg) >= STRAIGHT_DEG:
        angle = plain_number(abs(setup.key_azimuth_deg), 0)
        lines.append(say(s.DRAW_AROUND, angle=angle, side=camera_side(setup.key_azimuth_deg)))
    return lines


def height_lines(setup: Setup, daylight: Daylight) -> list[str]:
    """What is said beside it in the view from the side."""
    height = plain_number(setup.key_elevation_deg, 0)
    return [say(NAMES[daylight.light.kind()]), say(HEIGHT, height=height)]


def draw_north(canvas: Canvas, setup: Setup, daylight: Daylight | None) -> tuple[Label, ...]:
    """An arrow to the north in the clearest place at an edge, and its letter; nothing unknown.

    The lens looks up the page.
    """
    if daylight is None or daylight.bearing_deg is None:
        return ()
    looks = np.radians(bearing_at(daylight.bearing_deg, setup))
    along = np.array([-np.sin(looks), -np.cos(looks)])
    across = np.array([-along[1], along[0]])
    middle = _clearest(canvas)
    tip, foot = middle + 0.5 * NORTH_MM * along, middle - 0.5 * NORTH_MM * along
    canvas.line((foot, tip), colour=SOFT, width=0.3)
    head = (tip, tip - 2.4 * along + 0.9 * across, tip - 2.4 * along - 0.9 * across)
    canvas.line(head, closed=True, fill=SOFT, colour=SOFT, width=0.2)
    low = np.minimum(tip, foot)
    size = np.abs(tip - foot)
    canvas.boxes.append(Box(x=low[0], y=low[1], width=size[0], height=size[1]))
    anchor = (float(tip[0] + 1.5 * along[0]), float(tip[1] + 1.5 * along[1]))
    return (Label(lines=(say(NORTH),), anchor=anchor, colour=SOFT, leader_from_mm=np.inf),)


def _clearest(canvas: Canvas) -> Points:
    """The place at the left or right edge of the paper that is farthest from what is drawn."""
    reach = 0.5 * NORTH_MM + 2.0
    places = np.array(
        [
            (x, y)
            for x in (reach, canvas.width_mm - reach)
            for y in np.linspace(reach + 6.0, canvas.height_mm - reach - 6.0, 12)
        ]
    )
    ink = np.vstack([np.zeros((1, 2)), *canvas.inked, *canvas.filled])
    free = np.linalg.norm(places[:, None] - ink[None], axis=2).min(axis=1)
    best: Points = places[int(np.argmax(free))]
    return best


def _draw_sun(canvas: Canvas, middle: Points) -> None:
    angles = np.linspace(0.0, 2 * np.pi, 32, endpoint=False)
    disc = middle + SUN_MM * np.stack([np.sin(angles), np.cos(angles)], axis=1)
    canvas.line(disc, closed=True, fill=KEY_FILL, colour=KEY_INK, width=0.4)
    for angle in np.linspace(0.0, 2 * np.pi, RAYS, endpoint=False):
        way = np.array([np.sin(angle), np.cos(angle)])
        canvas.line((middle + RAY_MM[0] * way, middle + RAY_MM[1] * way), colour=KEY_INK, width=0.4)


def _draw_sky(canvas: Canvas, setup: Setup, project: Project, *, above: bool) -> None:
    spread = np.linspace(-SKY_DEG, SKY_DEG, 24)
    azimuth, elevation = setup.key_azimuth_deg, setup.key_elevation_deg
    ways = [
        direction_from_angles(azimuth + turn, elevation)
        if above
        else direction_from_angles(azimuth, elevation + turn)
        for turn in spread
    ]
    arc = project(setup.key_distance_mm * np.array(ways))
    canvas.line(arc, colour=KEY_FILL, width=2.2)
    canvas.line(arc, colour=KEY_INK, width=0.4)


def _draw_window(
    canvas: Canvas,
    setup: Setup,
    project: Project,
    away: Points,
    front: Points,
    *,
    above: bool,
) -> None:
    """The opening, and from above the wall that it is in, as far as the paper goes."""
    if not above:  # its outline only, or it would hide who sits before it
        outline = figures.hull(project(figures.key_box(setup)))
        canvas.line(outline, closed=True, colour=KEY_INK, width=0.4)
        return
    level = np.array([away[0], 0.0, away[2]])
    level /= np.linalg.norm(level)
    side, half = np.cross([0.0, 1.0, 0.0], level), 0.5 * setup.key_size_mm
    for sign in (-1.0, 1.0):
        ends = (front + sign * half * side, front + sign * (half + WALL_MM) * side)
        canvas.line(project(np.array(ends)), colour=INK, width=0.7)
    corners = [
        front + across * half * side + deep * level
        for across, deep in ((-1, 0.0), (1, 0.0), (1, WALL_DEPTH_MM), (-1, WALL_DEPTH_MM))
    ]
    canvas.line(project(np.array(corners)), closed=True, fill=KEY_FILL, colour=KEY_INK, width=0.4)
