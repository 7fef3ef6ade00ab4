"""What one frame gives to a likeness: the head as it stood there, and what of it is seen.

The fitted head is moved so that it shows exactly where the photograph has it: by what the landmarks
still miss, to the person's outline, and under the hair (``shell.py``). So a picture from the
frame's own place is the frame.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_erosion, distance_transform_edt

from sitwell.base.rotations import camera_axes
from sitwell.head.fit import FittedFrame
from sitwell.head.pose import project
from sitwell.head.reading import FrameReading
from sitwell.head.surface import SIDES, Head
from sitwell.likeness.body import Body, posed, unposed_steps, with_mouth
from sitwell.likeness.drawn import draw
from sitwell.likeness.laid import Laid, lay
from sitwell.likeness.likened import angle_deg
from sitwell.likeness.outline import Around, last
from sitwell.likeness.plate import Classes, Plate, cut_out
from sitwell.likeness.shell import outward

Floats = NDArray[np.float64]
Real = TypeVar("Real", bound=np.floating)

HIDDEN_MM = 4.0  # behind the nearest surface by more than this is hidden
BEND_MM = 6.0  # a step in depth by more than this over a pixel is an outline
FACING_NONE, FACING_FULL = 0.08, 0.38  # cosines between the surface and the line of sight
CLEAR_NONE_MM, CLEAR_FULL_MM = 0.4, 2.0  # off an outline
OWN_ALPHA = (0.55, 0.9)
IRIS_MIDDLES = (468, 473)  # the landmarks in the middle of the irises, own right first
# The landmarks along the lids' edges, own right eye first, as the landmarker's own map has them.
LID_EDGES = (
    (33, 7, 163, 144, 145, 153, 154, 155, 133, 173, 157, 158, 159, 160, 161, 246),
    (263, 249, 390, 373, 374, 380, 381, 382, 362, 398, 384, 385, 386, 387, 388, 466),
)
INTO_LENS_DEG, FAR_MM = 14.0, 1e5
SPREAD_OUT = 0.05  # what a frame says of how far hair stands out where it sees it from ahead


@dataclass(frozen=True, slots=True, kw_only=True)
class Stance:
    """How the head stands before a frame's camera, N vertices with the mouth's middle.

    ``level_mm`` (N, 3) is the level head in the frame's expression, ``turned`` (3, 3) how it is
    turned against the line of sight, ``axes`` (3, 3) that line's own; ``eyes_mm`` (3,) and
    ``place_mm`` (3,) are the eyes' middle in the studio and before the camera. ``off_px`` (N, 2)
    is what landmarks miss, at full size.
    """

    laid: Laid
    level_mm: Floats
    pivot_mm: Floats
    turned: Floats
    axes: Floats
    eyes_mm: Floats
    place_mm: Floats
    focal_px: float
    centre_px: Floats
    off_px: Floats

    def before_camera(self, body: Body, level_mm: Floats) -> Floats:
        """Places (N, 3) before the camera of places of the level head."""
        studio = posed(body, level_mm, self.pivot_mm, self.turned, 0.0)
        return (studio - self.eyes_mm) @ self.axes + self.place_mm

    def full_px(self, seen: Floats) -> Floats:
        """Full-size pixels (N, 2) of places before the camera, as the fit alone has them."""
        return self.centre_px + self.focal_px * seen[:, :2] / -seen[:, 2:] * (1.0, -1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Aspect:
    """One frame, ready to be looked at from elsewhere; N vertices.

    ``level_mm`` (N, 3) are their places on the level head, ``at`` (N, 2) where the plate has them,
    ``seen`` (N,) how well it shows each and ``shown`` (N,) whether at all; ``ends`` (N,) is where
    the head ends with the person's own outline. ``light`` (N,) is the frame's own light on them
    against the mean of the middle of the face. ``toward`` (3,) points from the level head to the
    lens, ``looks_at_mm`` (3,) is what its eyes look at, ``eyes_at`` where the plate has each eye's
    iris and lids' edges (1 + L, 2); ``obscured`` is what lies over the face. ``middle``, ``root``
    (2,), ``radii`` and ``up`` (2,) say where the plate has the head, the neck's root, the head's
    outline and its upright; ``px_per_mm`` and ``root_px_per_mm`` how large.
    """

    file: str
    obscured: frozenset[str]
    plate: Plate
    classes: Classes
    level_mm: Floats
    at: Floats
    seen: Floats
    shown: Floats
    ends: Floats
    light: Floats
    toward: Floats
    looks_at_mm: Floats
    eyes_at: tuple[Floats, ...]
    middle: Floats
    root: Floats
    radii: Floats
    up: Floats
    px_per_mm: float
    root_px_per_mm: float


def aspects_of(
    frames: Sequence[FrameReading], head: Head, body: Body, openness: Floats
) -> list[Aspect]:
    """An aspect of each frame that was fitted with ``head``, the level one."""
    stances = [_stance(frame, frame.fitted, head, openness) for frame in frames if frame.fitted]
    plates = [_plate(stance) for stance in stances]
    steps = [_steps(body, stance, *pair) for stance, pair in zip(stances, plates, strict=True)]
    total = np.maximum(sum(weight for _, _, weight in steps), 1e-9)
    shell = sum(step * weight[:, None] for step, _, weight in steps) / total[:, None]
    return [
        _aspect(body, stance, shell, edge, *pair)
        for stance, (_, edge, _), pair in zip(stances, steps, plates, strict=True)
    ]


def _stance(frame: FrameReading, fitted: FittedFrame, head: Head, openness: Floats) -> Stance:
    laid = lay(frame, fitted, openness)
    if laid is None or frame.focal is None or frame.size_px is None or frame.pose is None:
        raise ValueError("only frames with a photograph come here")
    pose = frame.pose
    axes = camera_axes(np.zeros(3), pose.place_mm)
    turned = axes @ pose.rotation
    pivot = head.neck_pivot_mm.astype(np.float64)
    vertices = laid.head.vertices_mm.astype(np.float64)
    places = laid.fine.places(vertices, np.eye(3))
    focal_px = frame.focal.px_at(fitted.pose.distance_mm)
    centre_px = np.array(frame.size_px) / 2.0
    off_px = laid.full_px - project(places, fitted.pose, focal_px, centre_px)
    return Stance(
        laid=laid,
        level_mm=places @ frame.neutral.T,
        pivot_mm=pivot,
        turned=turned,
        axes=axes,
        eyes_mm=pivot - turned @ pivot,
        place_mm=pose.place_mm,
        focal_px=focal_px,
        centre_px=centre_px,
        off_px=off_px,
    )


def _plate(stance: Stance) -> tuple[Plate, Classes]:
    eyes_px = stance.full_px(stance.place_mm[None])[0]
    laid = stance.laid
    return cut_out(laid.frame, eyes_px, laid.px_per_mm, laid.full_px)


def _whole(body: Body, stance: Stance) -> tuple[Floats, Floats]:
    """The stance's level places and misses, with the mouth's middle."""
    return with_mouth(body, stance.level_mm), with_mouth(body, stance.off_px)


def _steps(
    body: Body, stance: Stance, plate: Plate, classes: Classes
) -> tuple[Floats, Floats, Floats]:
    """Steps of the level scalp (N, 3), of the edges (N, 2) in plate pixels, and trust (N,)."""
    level, off_px = _whole(body, stance)
    seen = stance.before_camera(body, level)
    places = plate.at(stance.full_px(seen) + off_px)
    mm = plate.px_per_px / stance.laid.px_per_mm
    skull = seen[~body.of_neck]
    middle = 0.5 * (skull.min(axis=0) + skull.max(axis=0))
    step, edge = outward(body, seen, places, middle, plate, classes, mm)
    way = seen - middle
    way /= np.linalg.norm(way, axis=1, keepdims=True)
    sight = middle / np.linalg.norm(middle)
    trust = (1.0 - (way @ sight) ** 2) ** 2 + SPREAD_OUT
    return unposed_steps(body, step @ stance.axes.T, stance.turned), edge, trust


def _aspect(
    body: Body, stance: Stance, shell: Floats, edge: Floats, plate: Plate, classes: Classes
) -> Aspect:
    level, off_px = _whole(body, stance)
    level = level + shell
    seen = stance.before_camera(body, level)
    off_px = off_px * (1.0 - body.scalp[:, None]) + edge * plate.px_per_px
    mm_per_px = -seen[:, 2:] / stance.focal_px
    step = np.column_stack([off_px * (1.0, -1.0) * mm_per_px, np.zeros(len(seen))])
    level = level + unposed_steps(body, step @ stance.axes.T, stance.turned)
    seen = stance.before_camera(body, level)
    at = plate.at(stance.full_px(seen))
    root = body.follow < 0.05
    middle_mm, root_mm = seen[~body.of_neck].mean(axis=0), seen[root].mean(axis=0)
    height, width = plate.alpha.shape
    shown, _ = draw(at, -1.0 / seen[:, 2], body.triangles[body.of_head], height, width)
    middle = middle_of(body, at)
    around = Around(middle=middle)
    clear, shows, ahead = _seen(body, seen, at, plate, plate.px_per_px / stance.laid.px_per_mm)
    toward = -stance.place_mm @ stance.axes.T @ stance.turned
    up = stance.axes.T @ stance.turned[:, 1]
    return Aspect(
        file=stance.laid.frame.file,
        obscured=stance.laid.frame.obscured,
        plate=plate,
        classes=classes,
        level_mm=level,
        at=at,
        seen=clear,
        shown=shows,
        ends=np.where(body.of_ear, ahead, body.of_neck),
        light=with_mouth(body, stance.laid.light),
        toward=toward / np.linalg.norm(toward),
        looks_at_mm=_looks_at(stance, toward),
        eyes_at=_eyes_at(stance, plate),
        middle=middle,
        root=at[root].mean(axis=0),
        radii=last(around.unrolled((shown >= 0).astype(np.uint8) * 255) >= 128),
        up=upright(up, middle_mm),
        px_per_mm=stance.focal_px / -middle_mm[2] / plate.px_per_px,
        root_px_per_mm=stance.focal_px / -root_mm[2] / plate.px_per_px,
    )


def _looks_at(stance: Stance, lens_mm: Floats) -> Floats:
    """What the eyes look at (3,), for the level head: the lens, or where the irises point.

    The irises' places are known to a degree or two times the eyeballs' to some more, so that what
    is near the lens is the lens.
    """
    face, head = stance.laid.frame.face, stance.laid.head
    if face is None:
        return lens_mm
    ways = []
    for side, landmark in zip(SIDES, (IRIS_MIDDLES[1], IRIS_MIDDLES[0]), strict=True):
        centre = stance.laid.frame.neutral @ head.eye_centre_mm[side]
        seen = (stance.turned @ centre) @ stance.axes + stance.place_mm
        off = face.landmarks_px[landmark] - stance.full_px(seen[None])[0]
        off *= -seen[2] / stance.focal_px / head.eye_radius_mm * np.array([1.0, -1.0])
        ahead = np.sqrt(max(1.0 - float(off @ off), 0.2))
        ways.append(stance.turned.T @ (stance.axes @ np.append(off, ahead)))
    way = np.mean(ways, axis=0)
    way /= np.linalg.norm(way)
    to_lens = lens_mm / np.linalg.norm(lens_mm)
    return lens_mm if angle_deg(way, to_lens) < INTO_LENS_DEG else FAR_MM * way


def _eyes_at(stance: Stance, plate: Plate) -> tuple[Floats, ...]:
    """Where the plate has the iris and the lids' edges (1 + L, 2) of each eye."""
    face = stance.laid.frame.face
    if face is None:
        return ()
    return tuple(
        plate.at(face.landmarks_px[[iris, *edge]])
        for iris, edge in zip(IRIS_MIDDLES, LID_EDGES, strict=True)
    )


def middle_of(body: Body, places: Floats) -> Floats:
    """The middle (2,) of the head's own places (N, 2) in a picture."""
    skull = places[~body.of_neck]
    return 0.5 * (skull.min(axis=0) + skull.max(axis=0))


def upright(up: Floats, seen_mm: Floats) -> Floats:
    """How a direction (3,) before the camera shows in the picture (2,), y down, unit length."""
    shown = np.array(
        [up[0] + up[2] * seen_mm[0] / -seen_mm[2], up[1] + up[2] * seen_mm[1] / -seen_mm[2]]
    )
    shown *= (1.0, -1.0)
    return np.asarray(shown / max(float(np.linalg.norm(shown)), 1e-9))


def _seen(
    body: Body, seen: Floats, at: Floats, plate: Plate, mm: float
) -> tuple[Floats, Floats, Floats]:
    """How well the frame shows each vertex (N,), whether at all, and whether it could, 0 to 1."""
    height, width = plate.alpha.shape
    shown, nearest = draw(at, -1.0 / seen[:, 2], body.triangles, height, width)
    depth = np.where(shown >= 0, 1.0 / np.maximum(nearest, 1e-9), 1e6)
    eyes = (shown >= 0) & body.of_eye[body.triangles[shown]].all(axis=2)
    breaks = np.zeros(depth.shape, dtype=bool)
    breaks[1:-1] |= np.abs(np.diff(depth, 2, axis=0)) > BEND_MM
    breaks[:, 1:-1] |= np.abs(np.diff(depth, 2, axis=1)) > BEND_MM
    breaks |= eyes ^ binary_erosion(eyes)
    clear_mm = distance_transform_edt(~breaks) * mm
    column = np.clip(at[:, 0].astype(int), 0, width - 1)
    row = np.clip(at[:, 1].astype(int), 0, height - 1)
    left, top, right, bottom = plate.photo
    inside = (at > (left + 1, top + 1)).all(axis=1) & (at < (right - 1, bottom - 1)).all(axis=1)
    open_to = inside & (-seen[:, 2] < depth[row, column] + HIDDEN_MM)
    clear = _ramp(CLEAR_NONE_MM, CLEAR_FULL_MM, clear_mm[row, column])
    clear = np.maximum(clear, 0.6 * body.of_eye)
    own = _ramp(*OWN_ALPHA, plate.alpha[row, column] / 255.0)
    facing = _facing(body, seen)
    ahead = open_to * (facing > -FACING_NONE)
    shows = ahead * own
    return shows * clear * _ramp(FACING_NONE, FACING_FULL, facing), shows, ahead * 1.0


def _ramp(low: float, high: float, value: NDArray[Real]) -> NDArray[Real]:
    """0 below ``low``, 1 above ``high``, straight between, as precise as ``value``."""
    return np.clip((value - low) / (high - low), 0.0, 1.0)


def _facing(body: Body, seen: Floats) -> Floats:
    """Cosine (N,) between each vertex's normal and the way to the lens."""
    corners = seen[body.triangles]
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals = np.zeros_like(seen)
    for corner in range(3):
        for axis in range(3):
            normals[:, axis] += np.bincount(
                body.triangles[:, corner], weights=across[:, axis], minlength=len(seen)
            )
    length = np.linalg.norm(normals, axis=1) * np.linalg.norm(seen, axis=1)
    return -(normals * seen).sum(axis=1) / np.maximum(length, 1e-9)
