"""The set to scale, as SVG in ink: from above with the camera at the foot, and from the side.

From above, the page's right is camera right, as the photographer stands. From the side, the
camera stands at the page's right and the view is from the sitter's own right.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sitwell.base.units import (
    feet_from_mm,
    metres_from_mm,
    plain_number,
)
from sitwell.brief.place_light import Daylight
from sitwell.scene.rim import rim_place_mm
from sitwell.scene.setup import Setup
from sitwell.sheet import drawing_words as words
from sitwell.sheet import figures
from sitwell.sheet import sentences as s
from sitwell.sheet.drawing_place_light import (
    brought_in,
    draw_light,
    draw_north,
    height_lines,
    light_lines,
)
from sitwell.sheet.ink import (
    FAINT,
    INK,
    KEY_FILL,
    KEY_INK,
    LAMP_FILL,
    LAMP_INK,
    SOFT,
    Box,
    Canvas,
    Label,
    arc_points,
)
from sitwell.sheet.place_light import fills_itself
from sitwell.sheet.sentences import say
from sitwell.sheet.words import LEAST_DEG

Points = NDArray[np.float64]
Project = Callable[[Points], Points]

TEXT_MM = 3.3  # 9.4 pt: read at arm's length
MARGIN_MM = 5.0
BEHIND_LENS_MM = np.array((0.0, 0.0, 250.0))
NOSE_ARROW_MM = 9.0
LEADER_MM = 3.0
SCALE_PULL = 0.3  # the scale is as good anywhere
WALL_MM = 1.6  # as thick as its hatch, in the view from the side
LABEL_ROOM_MM = np.array((0.0, 400.0, 0.0))  # over a lamp behind the sitter, for its words
LENS_LABEL_MM = 20.0  # kept free behind the camera in the view from the side
SCALE_BARS_MM = (3000.0, 2000.0, 1000.0, 500.0, 200.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """An SVG with where its labels stand and how many mm of paper one mm of studio takes."""

    svg: str
    boxes: tuple[Box, ...]
    scale: float


def plan_drawing(
    setup: Setup, width_mm: float, height_mm: float, daylight: Daylight | None = None
) -> Drawing:
    """The set from above on a paper of the given size, camera at the foot.

    ``daylight`` is a key that stays where it is.
    """
    setup = brought_in(setup, daylight, above=True)
    canvas = Canvas(width_mm=width_mm, height_mm=height_mm, text_mm=TEXT_MM)
    scale, project = _fit(canvas, _plan_extent(setup), 0, 2)
    _draw_background_above(canvas, setup, project)
    _draw_view(canvas, setup, project, figures.view_angles_deg(setup)[0], 0)
    if _has_fill(setup, daylight):
        _draw_fill(canvas, setup, project)
    draw_lamps_behind(canvas, setup, project)
    draw_key(canvas, setup, project, daylight, above=True)
    _draw_sitter_above(canvas, setup, project)
    _draw_camera(canvas, project(setup.lens_mm()), project(np.zeros(3)))
    north = draw_north(canvas, setup, daylight)
    canvas.place((*north, *_plan_labels(canvas, setup, project, scale, daylight)))
    return Drawing(svg=canvas.svg(), boxes=tuple(canvas.boxes), scale=scale)


def side_drawing(
    setup: Setup, width_mm: float, height_mm: float, daylight: Daylight | None = None
) -> Drawing:
    """The set from the side on a paper of the given size, camera at the right."""
    setup = brought_in(setup, daylight, above=False)
    canvas = Canvas(width_mm=width_mm, height_mm=height_mm, text_mm=TEXT_MM)
    scale, project = _fit(canvas, _side_extent(setup), 2, 1)
    eye_y = float(project(np.zeros(3))[1])
    canvas.line(((1.0, eye_y), (width_mm - 1.0, eye_y)), colour=FAINT, width=0.2, dash="0.6 1.2")
    _draw_background_side(canvas, setup, project)
    _draw_view(canvas, setup, project, figures.view_angles_deg(setup)[1], 1)
    draw_lamps_behind(canvas, setup, project)
    draw_key(canvas, setup, project, daylight, above=False)
    for outline in (figures.shoulders_from_side(), figures.head_from_side(setup)):
        canvas.line(project(outline), closed=len(outline) > 10, fill="#ffffff", width=0.35)
    _draw_camera(canvas, project(setup.lens_mm()), project(np.zeros(3)))
    canvas.place(_side_labels(canvas, setup, project, scale, daylight))
    return Drawing(svg=canvas.svg(), boxes=tuple(canvas.boxes), scale=scale)


def _fit(canvas: Canvas, extent_mm: Points, across: int, up: int) -> tuple[float, Project]:
    """The scale that fits points (N, 3) on the paper, and the way from the studio onto it.

    ``across`` and ``up`` are the studio's axes that run to the page's right and, for the height,
    up the page; in the view from above +Z runs down the page, to the camera at its foot.
    """
    sign = 1.0 if up == 2 else -1.0
    flat = np.stack([extent_mm[:, across], sign * extent_mm[:, up]], axis=1)
    low, high = flat.min(axis=0), flat.max(axis=0)
    room = np.array([canvas.width_mm, canvas.height_mm]) - 2 * MARGIN_MM
    room[0] -= LENS_LABEL_MM if up == 1 else 0.0
    scale = float((room / np.maximum(high - low, 1.0)).min())
    shift = np.array([canvas.width_mm, canvas.height_mm]) / 2 - scale * (low + high) / 2
    if up == 1:
        shift[0] = MARGIN_MM - scale * low[0]

    def project(studio_mm: Points) -> Points:
        points = np.asarray(studio_mm, dtype=np.float64)
        return scale * np.stack([points[..., across], sign * points[..., up]], axis=-1) + shift

    return scale, project


def _plan_extent(setup: Setup) -> Points:
    corners = [
        [0.0, 0.0, -figures.drawn_background_mm(setup)],
        [0.0, 0.0, setup.distance_mm + BEHIND_LENS_MM[2]],
    ]
    shoulders, fill = figures.shoulders_from_above(setup), figures.fill_panel(setup)
    return np.vstack([corners, shoulders, fill, figures.key_box(setup), *boxes_behind(setup)])


def _side_extent(setup: Setup) -> Points:
    lens = setup.lens_mm()
    wall, crown = [0.0, 0.0, -figures.drawn_background_mm(setup)], [0.0, 300.0, 0.0]
    return np.vstack(
        [
            wall,
            crown,
            lens + BEHIND_LENS_MM,
            figures.shoulders_from_side(),
            figures.key_box(setup),
            *boxes_behind(setup),
            *(box + LABEL_ROOM_MM for box in boxes_behind(setup)),
        ]
    )


def boxes_behind(setup: Setup) -> list[Points]:
    """The lamps behind the sitter that are on."""
    return list(figures.lamps_behind(setup, figures.drawn_background_mm(setup)).values())


def _draw_background_above(canvas: Canvas, setup: Setup, project: Project) -> None:
    y = float(project(np.array([0.0, 0.0, -figures.drawn_background_mm(setup)]))[1])
    canvas.line(((2.0, y), (canvas.width_mm - 2.0, y)), width=0.6)
    for x in np.arange(3.0, canvas.width_mm - 2.0, 2.5):
        canvas.line(((x, y), (x + 1.2, y - 1.6)), colour=SOFT, width=0.15, clear=False)
    sitter = project(np.zeros(3))
    canvas.line(np.array([sitter, [sitter[0], y]]), colour=SOFT, width=0.2, dash="0.6 1.0")
    if figures.drawn_background_mm(setup) < setup.background_distance_mm:
        _draw_break(canvas, np.array([sitter[0], y + 5.0]), np.array([0.0, 1.0]))


def _draw_background_side(canvas: Canvas, setup: Setup, project: Project) -> None:
    x = float(project(np.array([0.0, 0.0, -figures.drawn_background_mm(setup)]))[0])
    canvas.line(((x, 2.0), (x, canvas.height_mm - 2.0)), width=0.6)
    canvas.bar(Box(x=x - WALL_MM, y=0.0, width=WALL_MM + 0.5, height=canvas.height_mm))
    for y in np.arange(3.0, canvas.height_mm - 2.0, 2.5):
        canvas.line(((x, y), (x - WALL_MM, y + 1.2)), colour=SOFT, width=0.15, clear=False)
    if figures.drawn_background_mm(setup) < setup.background_distance_mm:
        eye_y = float(project(np.zeros(3))[1])
        _draw_break(canvas, np.array([x + 5.0, eye_y]), np.array([1.0, 0.0]))


def _draw_break(canvas: Canvas, middle: Points, along: Points) -> None:
    """Two short strokes across a line that is shorter on paper than in the studio."""
    stroke = 1.8 * np.array([-along[1], along[0]]) + 0.7 * along
    canvas.line(
        (middle - 0.7 * along, middle + 0.7 * along), colour="#ffffff", width=1.0, clear=False
    )
    for shift in (-0.7 * along, 0.7 * along):
        canvas.line((middle + shift - stroke, middle + shift + stroke), width=0.3)


def _draw_view(canvas: Canvas, setup: Setup, project: Project, angle_deg: float, axis: int) -> None:
    """The edges of the picture from the lens to a little behind the sitter, and its middle."""
    lens = setup.lens_mm()
    reach = -lens * (1.0 + 300.0 / setup.distance_mm)
    offset = np.zeros(3)
    offset[axis] = np.linalg.norm(reach) * np.tan(np.radians(angle_deg / 2))
    for edge in (reach - offset, reach + offset):
        canvas.line(project(np.array([lens, lens + edge])), colour=SOFT, width=0.2, dash="2 1")
    canvas.line(project(np.array([lens, np.zeros(3)])), colour=INK, width=0.2)


def _has_fill(setup: Setup, daylight: Daylight | None) -> bool:
    return daylight is None or not fills_itself(setup, daylight)


def _draw_fill(canvas: Canvas, setup: Setup, project: Project) -> None:
    canvas.line(project(figures.fill_panel(setup)), width=0.7, colour=SOFT, dash="1.6 1.2")


def draw_key(
    canvas: Canvas, setup: Setup, project: Project, daylight: Daylight | None, *, above: bool
) -> None:
    """The key with its way to the face; one that stays where it is as it stands there."""
    if daylight is not None:
        draw_light(canvas, setup, project, daylight, above=above)
        return
    _, front = figures.key_axis(setup)
    canvas.line(project(np.array([front, np.zeros(3)])), colour=KEY_INK, width=0.3, dash="1.4 0.9")
    outline = figures.hull(project(figures.key_box(setup)))
    canvas.line(outline, closed=True, fill=KEY_FILL, colour=KEY_INK, width=0.4)


def draw_lamps_behind(canvas: Canvas, setup: Setup, project: Project) -> None:
    """The rim light and the background's own light, where they are on."""
    if setup.rim == "on":
        way = np.array([rim_place_mm(setup), np.zeros(3)])
        canvas.line(project(way), colour=LAMP_INK, width=0.3, dash="1.4 0.9")
    for box in boxes_behind(setup):
        outline = figures.hull(project(box))
        canvas.line(outline, closed=True, fill=LAMP_FILL, colour=LAMP_INK, width=0.4)


def _draw_sitter_above(canvas: Canvas, setup: Setup, project: Project) -> None:
    skull, nose = figures.head_from_above(setup)
    shoulders = figures.shoulders_from_above(setup)
    canvas.line(project(shoulders), closed=True, fill="#eef0f2", width=0.3)
    canvas.line(project(nose), fill="#ffffff", width=0.35)
    canvas.line(project(skull), closed=True, fill="#ffffff", width=0.35)
    start, tip = _nose_arrow(setup, project)
    canvas.line((start, tip), width=0.45)
    along = (tip - start) / np.linalg.norm(tip - start)
    across = np.array([-along[1], along[0]])
    head = (tip, tip - 1.9 * along + 0.75 * across, tip - 1.9 * along - 0.75 * across)
    canvas.line(head, closed=True, fill=INK, width=0.2)
    if abs(setup.turn_deg) >= LEAST_DEG:
        arc = arc_points(start, NOSE_ARROW_MM - 1.0, 0.0, setup.turn_deg)
        canvas.line(arc, colour=SOFT, width=0.2)


def _nose_arrow(setup: Setup, project: Project) -> tuple[Points, Points]:
    """Start and tip on the paper of an arrow of fixed length that points where the nose does."""
    centre = project(figures.pose_points(setup, figures.HEAD_CENTRE_MM[None]))[0]
    turn = np.radians(setup.turn_deg)
    return centre, centre + NOSE_ARROW_MM * np.array([np.sin(turn), np.cos(turn)])


def _draw_camera(canvas: Canvas, lens: Points, aim: Points) -> None:
    """A camera of fixed size on the paper, its front element at the lens, aimed at the sitter."""
    along = (aim - lens) / max(float(np.linalg.norm(aim - lens)), 1e-9)
    across = np.array([-along[1], along[0]])
    for front, back, half in ((0.0, -2.6, 1.3), (-2.6, -5.4, 3.2)):
        corners = [lens + d * along + w * across for d, w in
                   ((front, -half), (front, half), (back, half), (back, -half))]  # fmt: skip
        canvas.line(corners, closed=True, fill=INK, width=0.3)


def _plan_labels(
    canvas: Canvas, setup: Setup, project: Project, scale: float, daylight: Daylight | None
) -> tuple[Label, ...]:
    lens, sitter = project(setup.lens_mm()), project(np.zeros(3))
    key = project(figures.key_box(setup)).mean(axis=0)
    behind = project(np.array([0.0, 0.0, -figures.drawn_background_mm(setup)]))
    fill = project(figures.fill_panel(setup)).mean(axis=0)
    foot = canvas.height_mm
    key_lines = words.key_lines(setup) if daylight is None else light_lines(setup, daylight)
    fill_mm = scale * figures.FILL_WIDTH_MM / 2
    fill_label = _label(words.fill_lines(setup), fill, colour=SOFT, reach_mm=fill_mm)
    return (
        _quiet(say(s.CAMERA_LEFT), (0.0, foot)),
        _quiet(say(s.CAMERA_RIGHT), (canvas.width_mm, foot)),
        *lamp_labels(setup, project, scale, above=True),
        _label(words.turn_lines(setup), _nose_arrow(setup, project)[1]),
        _label(words.camera_lines(setup), lens + np.array((0.0, 3.0)), reach_mm=4.0),
        _label(key_lines, key, colour=KEY_INK, reach_mm=scale * setup.key_size_mm),
        *((fill_label,) if _has_fill(setup, daylight) else ()),
        _label(words.background_lines(setup), (sitter + behind) / 2),
        _scale_label(scale, (0.0, 0.0), canvas.width_mm),
    )


def _side_labels(
    canvas: Canvas, setup: Setup, project: Project, scale: float, daylight: Daylight | None
) -> tuple[Label, ...]:
    lens = project(setup.lens_mm())
    eye_y = float(project(np.zeros(3))[1])
    key = project(figures.key_box(setup)).mean(axis=0)
    if daylight is None:
        key_words = words.height_lines(s.DRAW_KEY, float(figures.key_axis(setup)[1][1]))
    else:
        key_words = height_lines(setup, daylight)
    chin = project(figures.head_from_side(setup))[16]
    # lamps behind the sitter leave it no room there
    corner = (canvas.width_mm if boxes_behind(setup) else 0.0, canvas.height_mm)
    labels = [
        _quiet(say(s.DRAW_EYE_LINE), (canvas.width_mm, eye_y)),
        *lamp_labels(setup, project, scale, above=False),
        _label([words.chin_line(setup)], chin),
        _label(
            key_words,
            key,
            colour=KEY_INK,
            reach_mm=scale * setup.key_size_mm,
            may_run_on=True,
        ),
        _label(
            words.height_lines(s.DRAW_LENS, setup.camera_height_mm),
            lens + np.array((3.0, 0.0)),
            reach_mm=4.0,
            may_run_on=True,
        ),
        _scale_label(scale, corner, canvas.width_mm),
    ]
    return tuple(labels)


def lamp_labels(setup: Setup, project: Project, scale: float, *, above: bool) -> list[Label]:
    """Labels of the lamps behind the sitter that are on, in the view from above or the side."""
    labels = []
    if setup.rim == "on":
        lines = (
            words.rim_lines(setup)
            if above
            else words.height_lines(s.DRAW_RIM, rim_place_mm(setup)[1])
        )
        anchor = project(figures.rim_box(setup)).mean(axis=0)
        reach_mm = scale * setup.rim_size_mm
        labels.append(_label(lines, anchor, colour=LAMP_INK, reach_mm=reach_mm))
    if setup.background_light == "on" and above:
        wall_mm = figures.drawn_background_mm(setup)
        anchor = project(figures.background_light_box(setup, wall_mm)).mean(axis=0)
        reach_mm = scale * figures.BACKGROUND_LIGHT_MM
        labels.append(
            _label([say(s.DRAW_BACKGROUND_LIGHT)], anchor, colour=LAMP_INK, reach_mm=reach_mm)
        )
    return labels


def _label(
    lines: list[str],
    anchor: Points,
    *,
    colour: str = INK,
    reach_mm: float = 0.0,
    may_run_on: bool = False,
) -> Label:
    """A label for a thing that reaches so far around its anchor."""
    x, y = (float(value) for value in anchor)
    return Label(
        lines=tuple(lines),
        anchor=(x, y),
        colour=colour,
        leader_from_mm=LEADER_MM + reach_mm,
        or_lines=(" ".join(lines),) if may_run_on else (),
    )


def _quiet(text: str, anchor: tuple[float, float]) -> Label:
    return Label(lines=(text,), anchor=anchor, colour=SOFT, leader_from_mm=np.inf, strong=False)


def _scale_label(scale: float, corner: tuple[float, float], width_mm: float) -> Label:
    length = next((b for b in SCALE_BARS_MM if b * scale <= width_mm / 4), SCALE_BARS_MM[-1])
    words = say(
        s.DRAW_SCALE,
        metres=plain_number(metres_from_mm(length)),
        feet=plain_number(feet_from_mm(length)),
    )
    return Label(
        lines=(words,),
        anchor=corner,
        colour=SOFT,
        leader_from_mm=np.inf,
        strong=False,
        bar_mm=length * scale,
        pull=SCALE_PULL,
    )
