"""The set as a studio plan to scale.

From above the page's right is camera right and the camera stands at the foot; from the side the
camera stands at the page's right. Drawing units are millimetres; lettering is laid over the
drawing by the page, so that it keeps its size on a phone.
"""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sitwell.base.rotations import direction_from_angles
from sitwell.brief.room import Room
from sitwell.scene.setup import Setup
from sitwell.sheet import figures
from sitwell.sheet.drawing_place_light import NAMES, brought_in
from sitwell.ui.web.floor_parts import Box, Floor, Handle, Lettering
from sitwell.ui.web.wording import degrees, length, mark, t

Points = NDArray[np.float64]

GRID_MM = 500.0
HANDLES_APART = 0.1  # of the drawing's height; a target of 24 px on the smallest drawing
LETTERED = 0.2  # of the drawing's width; what a few letters take on the smallest drawing
MARGIN_MM = 250.0
BEHIND_CAMERA_MM = 600.0
NEAR_BACKGROUND_MM = 2500.0
LEAST_HALF_WIDTH_MM = 1500.0
BODY_LONG_MM = 160.0
BACKGROUND_HIGH_MM = 2700.0
ARC_MM = 520.0
LEAST_LETTERED_DEG = 2.0
LAMPS = {"rim": mark("rim light"), "background": mark("background light")}


def from_above(
    setup: Setup,
    room: Room,
    reach: tuple[Setup, ...] = (),
    *,
    whole: bool = False,
    beside: tuple[Points, ...] = (),
    instead: tuple[Points, ...] = (),
) -> Floor:
    """The set from above; ``reach`` are set-ups that must fit as well, so that the scale stays.

    ``whole`` shows the room to its walls; ``beside`` are outlines (N, 3) of who else stands there,
    ``instead`` those of everybody, where all is counted from the middle of their eyes.
    """
    said, light = key_words(setup, room), _far_light(setup, room)
    behind_mm = setup.background_distance_mm
    setup = _near(as_drawn(setup, room, above=True), room)
    reach = tuple(_near(as_drawn(each, room, above=True), room) for each in reach)
    box = _frame_whole(room) if whole else _frame_above(room, (setup, *reach))
    ink = [_grid(box), _walls_above(box, room), _background_above(box, setup, behind_mm)]
    ink += [
        _sight(setup, box),
        _fill(setup),
        _lamps_above(setup),
        _key_above(setup),
        *(_path(points[:, [0, 2]], "body") for points in beside),
        *([_path(points[:, [0, 2]], "head") for points in instead] or [_sitter_above(setup)]),
        _camera(setup),
    ]
    key, lens = figures.key_axis(setup)[1], setup.lens_mm()
    handles = (
        Handle(id="key", x=key[0], y=key[2], name=t("Key"), value=said),
        Handle(
            id="camera",
            x=0.0,
            y=lens[2],
            name=t("Camera"),
            value=camera_words(setup),
            off=_room_between(float(key[0]), float(key[2] - lens[2]), box),
        ),
    )
    return Floor(
        box=box,
        ink="".join(ink),
        lettering=_lettering_above(setup, box, light, behind_mm),
        handles=handles,
        words=t("From above: {camera}. {key}.", camera=camera_words(setup), key=said),
    )


def as_drawn(setup: Setup, room: Room, *, above: bool) -> Setup:
    """The set-up as it is drawn: sun and open sky brought in along their own way."""
    return brought_in(setup, room.daylight, above=above) if _far_light(setup, room) else setup


def _near(setup: Setup, room: Room) -> Setup:
    """Outdoors what is behind the sitter is drawn nearer than it is: the rest stays large."""
    if not room.outdoors or setup.background_distance_mm <= NEAR_BACKGROUND_MM:
        return setup
    return setup.with_changes(background_distance_mm=NEAR_BACKGROUND_MM)


def _far_light(setup: Setup, room: Room) -> str:
    """What the key is where it is too far off to be drawn: "sun" or "shade"; else ""."""
    own = room.daylight
    far = own is not None and own.light.size_mm == setup.key_size_mm
    return own.light.daylight if own and far and own.light.daylight != "window" else ""


def from_side(setup: Setup, room: Room, eyes_mm: float, reach: tuple[Setup, ...] = ()) -> Floor:
    """The set from the sitter's own right; the floor lies ``eyes_mm`` below the eye line."""
    said = key_words(setup, room)
    setup = _near(as_drawn(setup, room, above=False), room)
    reach = tuple(_near(as_drawn(each, room, above=False), room) for each in reach)
    box = _frame_side(room, eyes_mm, (setup, *reach))
    lens, key = setup.lens_mm(), figures.key_axis(setup)[1]
    ink = [_grid(box), _room_side(box, room, setup, eyes_mm)]
    # under the head: a window may be as high as a person
    ink += [
        _path(figures.hull(np.array(_side(figures.key_box(setup)))), "key"),
        _path(_side(figures.shoulders_from_side()), "body", closed=False),
        _path(_side(figures.head_from_side(setup)), "head"),
        _path([(lens[2], -lens[1]), (0, 0)], "thin", closed=False),
        *(_path(figures.hull(np.array(_side(lamp))), "lamp") for lamp in _lamps(setup).values()),
        _path([(key[2], -key[1]), (0, 0)], "beam", closed=False),
        _body((lens[2], -lens[1]), (-lens[2], lens[1])),
    ]
    high = height_words(setup)
    handles = (
        Handle(id="key", x=key[2], y=-key[1], name=t("Key, height"), value=said),
        Handle(id="camera", x=lens[2], y=-lens[1], name=t("Lens, height"), value=high),
    )
    return Floor(
        box=box,
        ink="".join(ink),
        lettering=_lettering_side(setup, box),
        handles=handles,
        words=t("From the side: {height}.", height=high),
    )


def _room_side(box: Box, room: Room, setup: Setup, eyes_mm: float) -> str:
    """Floor, ceiling, background and eye line."""
    start, end = box[0], box[0] + box[2]
    ceiling = eyes_mm - room.ceiling_mm
    behind = -setup.background_distance_mm
    top = eyes_mm - min(room.ceiling_mm, BACKGROUND_HIGH_MM)
    return (
        _rule(start, eyes_mm, end, eyes_mm, "wall")
        + ("" if room.outdoors else _rule(start, ceiling, end, ceiling, "wall"))
        + _rule(behind, eyes_mm, behind, top, "ground")
        + _rule(start, 0, end, 0, "dash")
    )


def _room_between(across_mm: float, beyond_mm: float, box: Box) -> float:
    """How far the camera's handle moves off a key that lies on it, on the side where it stands."""
    need_mm = HANDLES_APART * box[3]
    if math.hypot(across_mm, beyond_mm) >= need_mm:
        return 0.0
    return beyond_mm - need_mm if beyond_mm > 0.0 else beyond_mm + need_mm


def key_words(setup: Setup, room: Room | None = None) -> str:
    """Where the key stands, in words; sun and open sky have no distance."""
    side = t("camera right") if setup.key_azimuth_deg > 0 else t("camera left")
    around = t("{angle} {side}", angle=degrees(abs(setup.key_azimuth_deg)), side=side)
    up = degrees(setup.key_elevation_deg)
    light = _far_light(setup, room) if room else ""
    if light:
        return t("{light} {around}, {up} up", light=t(NAMES[light]), around=around, up=up)
    away = length(setup.key_distance_mm)
    if degrees(abs(setup.key_azimuth_deg)) == degrees(0.0):
        return t("key over the lens, {up} up, {length}", up=up, length=away)
    return t("key {around}, {up} up, {length}", around=around, up=up, length=away)


def camera_words(setup: Setup) -> str:
    """Where the camera stands, in words."""
    return t("lens {length} from the eyes", length=length(setup.distance_mm))


def height_words(setup: Setup) -> str:
    """How high the lens is, in words."""
    height = setup.camera_height_mm
    if abs(height) < 5:
        return t("lens at the eye line")
    text = t("lens {length} above the eyes") if height > 0 else t("lens {length} below the eyes")
    return text.format(length=length(abs(height)))


def _frame_above(room: Room, setups: tuple[Setup, ...]) -> Box:
    keys = [figures.key_box(setup) for setup in setups]
    keys += [lamp for setup in setups for lamp in _lamps(setup).values()]
    half = max([LEAST_HALF_WIDTH_MM] + [float(np.abs(box[:, 0]).max()) + 350.0 for box in keys])
    half = min(_up(half), room.width_mm / 2) + MARGIN_MM
    back = max(setup.background_distance_mm for setup in setups) + MARGIN_MM
    fore = max(
        [setup.distance_mm + BEHIND_CAMERA_MM for setup in setups]
        + [float(box[:, 2].max()) + MARGIN_MM for box in keys]
    )
    return -half, -back, 2 * half, back + _up(fore)


def _frame_whole(room: Room) -> Box:
    half, back = room.width_mm / 2 + MARGIN_MM, room.background_distance_mm + MARGIN_MM
    return -half, -back, 2 * half, back + room.depth_mm + MARGIN_MM


def _frame_side(room: Room, eyes_mm: float, setups: tuple[Setup, ...]) -> Box:
    _, back, _, whole = _frame_above(room, setups)
    boxes = [box for setup in setups for box in (figures.key_box(setup), *_lamps(setup).values())]
    tops = [-float(box[:, 1].max()) for box in boxes]
    roof_mm = BACKGROUND_HIGH_MM if room.outdoors else room.ceiling_mm
    top = min(eyes_mm - roof_mm, *tops) - MARGIN_MM
    return back, top, whole, eyes_mm + MARGIN_MM - top


def _up(value: float) -> float:
    return math.ceil(value / GRID_MM) * GRID_MM


def _grid(box: Box) -> str:
    x, y, width, height = box
    lines = []
    for number in range(math.ceil(x / GRID_MM), math.floor((x + width) / GRID_MM) + 1):
        lines.append(_rule(number * GRID_MM, y, number * GRID_MM, y + height, "grid"))
    for number in range(math.ceil(y / GRID_MM), math.floor((y + height) / GRID_MM) + 1):
        lines.append(_rule(x, number * GRID_MM, x + width, number * GRID_MM, "grid"))
    return "".join(lines)


def _walls_above(box: Box, room: Room) -> str:
    if room.outdoors:
        return ""
    x, y, width, height = box
    half, end = room.width_mm / 2, room.depth_mm
    walls = [_rule(side * half, y, side * half, y + height, "wall") for side in (-1, 1)
             if abs(side * half) <= x + width]  # fmt: skip
    if end <= y + height:
        walls.append(_rule(-half, end, half, end, "wall"))
    return "".join(walls)


def _background_above(box: Box, setup: Setup, behind_mm: float) -> str:
    """The background, with a break in its dimension where it is really farther behind."""
    x, _, width, _ = box
    z = -setup.background_distance_mm
    line = _rule(x + MARGIN_MM, z, x + width - MARGIN_MM, z, "ground")
    ink = line + _dimension((0.0, z), (0.0, -220.0))
    if behind_mm > setup.background_distance_mm:
        ink += "".join(_rule(-90, y + 45, 90, y - 45, "thin") for y in (z + 420.0, z + 480.0))
    return ink


def _sight(setup: Setup, box: Box) -> str:
    half = math.tan(math.radians(figures.view_angles_deg(setup)[0] / 2))
    lens = setup.lens_mm()[2]
    far = min(lens + setup.background_distance_mm, lens - box[1])
    cone = [(0.0, lens), (-half * far, lens - far), (half * far, lens - far)]
    return _path(cone, "sight") + _dimension((0.0, lens), (0.0, 60.0))


def _fill(setup: Setup) -> str:
    ends = [(float(x), float(z)) for x, _, z in figures.fill_panel(setup)]
    return _path(ends, "fill", closed=False)


def _key_above(setup: Setup) -> str:
    box = figures.key_box(setup)[:, [0, 2]]
    away, front = figures.key_axis(setup)
    arc = [
        ARC_MM * direction_from_angles(angle, 0.0)[[0, 2]]
        for angle in np.linspace(0.0, setup.key_azimuth_deg, 24)
    ]
    half = np.cross([0.0, 1.0, 0.0], away) * setup.key_size_mm / 2
    spread = [(front - half)[[0, 2]], (front + half)[[0, 2]], np.zeros(2)]
    return (
        _path(spread, "glow")
        + _path(arc, "thin", closed=False)
        + _dimension(front[[0, 2]], 60 * away[[0, 2]], "beam")
        + _path(figures.hull(box), "key")
    )


def _lamps(setup: Setup) -> dict[str, Points]:
    return figures.lamps_behind(setup, setup.background_distance_mm)


def _lamps_above(setup: Setup) -> str:
    boxes = _lamps(setup).values()
    return "".join(_path(figures.hull(box[:, [0, 2]]), "lamp") for box in boxes)


def _sitter_above(setup: Setup) -> str:
    skull, nose = figures.head_from_above(setup)
    shoulders = figures.shoulders_from_above(setup)
    return (
        _path(shoulders[:, [0, 2]], "body")
        + _path(nose[:, [0, 2]], "head")
        + _path(skull[:, [0, 2]], "head")
    )


def _camera(setup: Setup) -> str:
    return _body((0.0, float(setup.lens_mm()[2])), (0.0, -1.0))


def _body(lens: tuple[float, float], ahead: tuple[float, float]) -> str:
    """A camera of its usual size, its front at the lens, looking along ``ahead``."""
    along = np.array(ahead) / np.hypot(*ahead)
    across = np.array([-along[1], along[0]])
    front = np.array(lens)
    parts = ((0.0, -90.0, 38.0), (-90.0, -BODY_LONG_MM, 72.0))
    return "".join(
        _path(
            [front + d * along + w * across for d, w in ((a, -h), (a, h), (b, h), (b, -h))],
            "camera",
        )
        for a, b, h in parts
    )


def _lettering_above(setup: Setup, box: Box, light: str, behind_mm: float) -> tuple[Lettering, ...]:
    lens = float(setup.lens_mm()[2])
    x, y, width, height = box
    round_deg = setup.key_azimuth_deg
    key_side, free_side = ("right", "left") if round_deg > 0 else ("left", "right")
    beside = figures.key_box(setup)[:, 0]
    edge = float(beside.max() if round_deg > 0 else beside.min())
    behind = -(setup.background_distance_mm + 220) / 2
    half = math.radians(round_deg / 2)
    key_text = t(NAMES[light]) if light else length(setup.key_distance_mm)
    lettering = [
        Lettering(x=x, y=y + height, text=t("camera left"), side="corner", kind="soft"),
        Lettering(
            x=x + width, y=y + height, text=t("camera right"), side="corner-end", kind="soft"
        ),
        Lettering(x=0, y=lens * 0.5, text=length(setup.distance_mm), side=free_side),
        Lettering(x=0, y=behind, text=length(behind_mm), kind="soft"),
        _beside_key(box, figures.key_box(setup), edge, key_side, key_text),
    ]
    lettering += [
        Lettering(
            x=box[:, 0].mean(), y=box[:, 2].min(), text=t(LAMPS[name]), side="above", kind="soft"
        )
        for name, box in _lamps(setup).items()
    ]
    if abs(round_deg) >= LEAST_LETTERED_DEG:
        x, y = ARC_MM * math.sin(half), ARC_MM * math.cos(half)
        lettering.append(
            Lettering(x=x, y=y, text=degrees(abs(round_deg)), side="below", kind="key")
        )
    if abs(setup.turn_deg) >= LEAST_LETTERED_DEG:
        side = "right" if setup.turn_deg > 0 else "left"
        lettering.append(Lettering(x=60 if setup.turn_deg > 0 else -60, y=130,
                                   text=t("turn {angle}", angle=degrees(abs(setup.turn_deg))),
                                   side=side))  # fmt: skip
    return tuple(lettering)


def _beside_key(box: Box, lamp: Points, edge_mm: float, side: str, text: str) -> Lettering:
    """What is told of the key: outside it, or under it where the paper ends too soon."""
    room_mm = min(box[0] + box[2] - edge_mm, edge_mm - box[0])
    middle = lamp[:, [0, 2]].mean(axis=0)
    if room_mm < LETTERED * box[2]:
        return Lettering(
            x=middle[0], y=float(lamp[:, 2].max()), text=text, side="below", kind="key"
        )
    return Lettering(x=edge_mm, y=middle[1], text=text, side=side, kind="key")


def _lettering_side(setup: Setup, box: Box) -> tuple[Lettering, ...]:
    lens, key = setup.lens_mm(), figures.key_axis(setup)[1]
    raised = t("key {angle} up", angle=degrees(setup.key_elevation_deg))
    top = float(figures.key_box(setup)[:, 1].max())
    chin = t("chin {angle}", angle=degrees(setup.chin_deg))
    return (
        Lettering(x=box[0], y=0, text=t("eye line"), side="corner", kind="soft"),
        Lettering(x=lens[2], y=-lens[1] + 160, text=height_words(setup), side="under-end"),
        Lettering(x=key[2], y=-top, text=raised, side="above", kind="key"),
        Lettering(x=-260, y=120, text=chin, side="left"),
    )


def _dimension(start: ArrayLike, end: ArrayLike, kind: str = "thin") -> str:
    """A dimension line with a slash at each end."""
    first, last = np.asarray(start, dtype=np.float64), np.asarray(end, dtype=np.float64)
    slash = np.array([38.0, -38.0])
    ends = [_path([p - slash, p + slash], kind, closed=False) for p in (first, last)]
    return _path([first, last], kind, closed=False) + "".join(ends)


def _side(points_mm: Points) -> list[tuple[float, float]]:
    return [(float(z), -float(y)) for _, y, z in points_mm]


def _rule(x1: float, y1: float, x2: float, y2: float, kind: str) -> str:
    return f'<path class="{kind}" d="M{x1:.0f} {y1:.0f}L{x2:.0f} {y2:.0f}"/>'


def _path(points: ArrayLike, kind: str, *, closed: bool = True) -> str:
    pairs = " ".join(f"{x:.1f} {y:.1f}" for x, y in np.asarray(points, dtype=np.float64))
    return f'<path class="{kind}" d="M{pairs}{"Z" if closed else ""}"/>'
