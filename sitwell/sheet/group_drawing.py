"""A group's set from above, as SVG in ink: camera at the foot, everybody at their place."""

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from sitwell.base.rotations import rotation_from_pose
from sitwell.base.units import distance_words
from sitwell.brief.place_light import Daylight
from sitwell.scene.setup import Setup
from sitwell.search.group import GroupSetup
from sitwell.sheet import figures
from sitwell.sheet.drawing import boxes_behind, draw_key, draw_lamps_behind, lamp_labels
from sitwell.sheet.drawing_place_light import brought_in, draw_north, light_lines
from sitwell.sheet.ink import INK, KEY_INK, SOFT, Canvas, Label

Points = NDArray[np.float64]
TEXT_MM, MARGIN_MM = 3.3, 5.0
BEHIND_LENS_MM = np.array((0.0, 0.0, 350.0))


def group_drawing(
    group: GroupSetup,
    labels: Sequence[str],
    width_mm: float,
    height_mm: float,
    daylight: Daylight | None = None,
) -> str:
    """The set from above on a paper of the given size; to scale.

    ``daylight`` is a key that stays where it is; sun and sky are brought in.
    """
    group = replace(group, shared=brought_in(group.shared, daylight, above=True))
    canvas = Canvas(width_mm=width_mm, height_mm=height_mm, text_mm=TEXT_MM)
    shared = group.shared
    project = _fit(canvas, group)
    ground = project(np.array([[0.0, 0.0, -figures.drawn_background_mm(shared)]]))[0, 1]
    canvas.line(((2.0, ground), (width_mm - 2.0, ground)), width=0.6)
    _draw_view(canvas, group, project)
    draw_lamps_behind(canvas, shared, project)
    draw_key(canvas, shared, project, daylight, above=True)
    # the farther first, so that the nearer lies over them, as in the picture
    for index in sorted(range(len(labels)), key=lambda i: group.places[i].z_mm):
        _draw_sitter(canvas, group, index, project)
    _draw_camera(canvas, project(shared.lens_mm()[None])[0])
    north = draw_north(canvas, shared, daylight)
    canvas.place((*north, *_labels(group, labels, project, daylight)))
    return canvas.svg()


def heads_from_above(group: GroupSetup, index: int) -> tuple[Points, Points, Points]:
    """Shoulders, skull and nose (N, 3) of one sitter, in the group's frame."""
    own = group.own(index)
    turned = rotation_from_pose(group.bearing_deg(index), 0.0, 0.0)
    skull, nose = figures.head_from_above(own)
    shoulders = figures.shoulders_from_above(own)
    shoulders, skull, nose = (
        part @ turned.T + group.places[index].eyes_mm for part in (shoulders, skull, nose)
    )
    return shoulders, skull, nose


def _fit(canvas: Canvas, group: GroupSetup) -> Callable[[Points], Points]:
    shared = group.shared
    lens = shared.lens_mm()
    extent = np.vstack(
        [
            [[0.0, 0.0, -figures.drawn_background_mm(shared)]],
            [lens + BEHIND_LENS_MM],
            figures.key_box(shared),
            *boxes_behind(shared),
            *(heads_from_above(group, i)[0] for i in range(len(group.places))),
        ]
    )[:, [0, 2]]
    low, high = extent.min(axis=0), extent.max(axis=0)
    room = np.array([canvas.width_mm, canvas.height_mm]) - 2 * MARGIN_MM
    scale = float((room / np.maximum(high - low, 1.0)).min())
    shift = np.array([canvas.width_mm, canvas.height_mm]) / 2 - scale * (low + high) / 2

    def project(points_mm: Points) -> Points:
        return np.asarray(scale * points_mm[..., [0, 2]] + shift)

    return project


def _draw_view(canvas: Canvas, group: GroupSetup, project: Callable[[Points], Points]) -> None:
    """The edges of the picture from the lens to a little behind the group, and its middle."""
    shared: Setup = group.shared
    lens = shared.lens_mm()
    left_mm, _, wide_mm, _ = group.picture_mm()
    reach = 1.0 + 300.0 / shared.distance_mm
    for across_mm in (left_mm, left_mm + wide_mm):
        end = lens + reach * (np.array([across_mm, 0.0, 0.0]) - lens)
        canvas.line(project(np.array([lens, end])), colour=SOFT, width=0.2, dash="2 1")
    canvas.line(project(np.array([lens, np.zeros(3)])), colour=INK, width=0.2)


def _draw_sitter(
    canvas: Canvas, group: GroupSetup, index: int, project: Callable[[Points], Points]
) -> None:
    shoulders, skull, nose = heads_from_above(group, index)
    canvas.line(project(shoulders), closed=True, fill="#eef0f2", width=0.3)
    canvas.line(project(nose), fill="#ffffff", width=0.35)
    canvas.line(project(skull), closed=True, fill="#ffffff", width=0.35)


def _draw_camera(canvas: Canvas, lens: Points) -> None:
    for front, back, half in ((0.0, 2.6, 1.3), (2.6, 5.4, 3.2)):
        corners = [
            lens + np.array((w, d))
            for d, w in ((front, -half), (front, half), (back, half), (back, -half))
        ]
        canvas.line(corners, closed=True, fill=INK, width=0.2)


def _labels(
    group: GroupSetup,
    labels: Sequence[str],
    project: Callable[[Points], Points],
    daylight: Daylight | None,
) -> list[Label]:
    shared = group.shared
    middle = project(0.5 * shared.lens_mm()[None])[0]
    key = project(figures.key_axis(shared)[1][None])[0]
    far = (distance_words(shared.key_distance_mm),)
    key_lines = far if daylight is None else tuple(light_lines(shared, daylight))
    made = [
        Label(lines=(distance_words(shared.distance_mm),), anchor=_pair(middle)),
        Label(lines=key_lines, anchor=_pair(key), colour=KEY_INK),
    ]
    for index, label in enumerate(labels):
        place = project(heads_from_above(group, index)[0].mean(axis=0)[None])[0]
        made.append(Label(lines=(label[:24],), anchor=_pair(place), leader_from_mm=8.0))
    scale = float(np.ptp(project(np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0]]))[:, 0]))
    return [*made, *lamp_labels(shared, project, scale, above=True)]


def _pair(point: Points) -> tuple[float, float]:
    return float(point[0]), float(point[1])
