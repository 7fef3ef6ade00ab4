"""Look at one photograph: its faces, each as a ``Sight`` of the sitter's head and the picture.

Landmark numbers are those of the landmark library's face mesh.
"""

import math
import re
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sitwell.base.rotations import (
    angles_from_direction,
    camera_axes,
    direction_from_angles,
    pose_from_rotation,
)
from sitwell.base.words import mark, tr
from sitwell.brief.photos import Photo
from sitwell.face.landmarks import FaceReading
from sitwell.head.pose import HeadPose, Sighting, pose_quick, project
from sitwell.head.shading import read_light
from sitwell.head.surface import Head
from sitwell.scene.measures import NAMES, Evaluator
from sitwell.scene.setup import Setup, moved_eyes_mm
from sitwell.shoot import pixels
from sitwell.shoot.eyes import EYE_OUTLINE, OTHER, eye_breadth_px, eye_open, gaze_deg
from sitwell.shoot.frame_facts import Sight

# Enough for the near eye's focus in a head-and-shoulders frame; decoded at about this size.
LOOK_SIDE_PX = 2400
# One sigma of quick pose fits on synthetic heads, turned about 30 degrees.
POSE_SPREAD = {"turn_deg": 1.5, "chin_deg": 2.0, "tilt_deg": 0.7}
# One sigma of the key's direction, and below which share of the light there is no direction.
KEY_SPREAD = {"key_azimuth_deg": 5.0, "key_elevation_deg": 5.0}
LEAST_KEY_SHARE, KEY_FACE_PX = 0.3, 300
# A distance is only as good as the focal length that it rests on.
WORST_FOCAL_SPREAD = 0.06
_SIGHT_ROUNDS = 5  # each takes some nine tenths of what is left

_LIPS = (61, 40, 37, 0, 267, 270, 291, 321, 314, 17, 84, 91)
_OVAL = (
    *(10, 338, 297, 332, 284, 251, 389, 356, 454, 323, 361, 288, 397, 365, 379, 378, 400, 377),
    *(152, 148, 176, 149, 150, 136, 172, 58, 132, 93, 234, 127, 162, 21, 54, 103, 67, 109),
)
_CHEEK = {"own_left": 425, "own_right": 205}
_TEMPLE = {"own_left": 454, "own_right": 234}
_BROWS, _CHIN = (105, 334), 152

Points = NDArray[np.float64]
Evaluate = Callable[[Setup], NDArray[np.float64]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sitter:
    """The head to hold frames against and the set-up that was planned for it.

    ``evaluate`` gives the head's measures in a set-up; ``neutral_chin_deg`` is what the sitter's
    own level frame reads as chin, taken off every reading.
    """

    head: Head
    planned: Setup
    evaluate: Evaluate
    neutral_chin_deg: float = 0.0


def sitter_for(head: Head, planned: Setup, neutral_chin_deg: float = 0.0) -> Sitter:
    """A sitter to look for, ready to be measured."""
    return Sitter(
        head=head,
        planned=planned,
        evaluate=Evaluator(head).evaluate,
        neutral_chin_deg=neutral_chin_deg,
    )


def look_at(
    photo: Photo,
    faces: tuple[FaceReading, ...],
    sitter: Sitter | None = None,
    *,
    with_key: bool = False,
) -> tuple[Sight, ...]:
    """A sight of every face, from camera left to right; one that says so when there is none.

    The sitter's head is laid on the largest face. ``with_key`` reads the key's direction from its
    skin as well, which takes longer than all the rest.
    """
    if not faces:
        return (Sight(faces=0),)
    largest = max(range(len(faces)), key=lambda i: faces[i].side_px)
    names = position_names(len(faces))
    return tuple(
        _sight(photo, face, len(faces), names[i], sitter if i == largest else None, with_key)
        for i, face in enumerate(faces)
    )


def position_names(count: int) -> tuple[str, ...]:
    """How the photographer calls each of so many people from camera left to right.

    The names are kept with what was seen; ``position_words`` says them.
    """
    if count == 1:
        return ("",)
    if count == 2:
        return ("camera left", "camera right")
    inner = [_ORDINALS.get(i, f"number {i} from camera left") for i in range(2, count)]
    if count == 3:
        inner = [_MIDDLE]
    return ("camera left", *inner, "camera right")


def position_words(position: str) -> str:
    """Where a person stands, in the reader's language."""
    number = re.fullmatch(r"number (\d+) from camera left", position)
    return tr(_NUMBER, number=number[1]) if number else tr(position)


_NUMBER, _MIDDLE = mark("number {number} from camera left"), mark("in the middle")
_ORDINALS = {
    2: mark("second from camera left"),
    3: mark("third from camera left"),
    4: mark("fourth from camera left"),
    5: mark("fifth from camera left"),
    6: mark("sixth from camera left"),
}


def _sight(
    photo: Photo,
    face: FaceReading,
    count: int,
    position: str,
    sitter: Sitter | None,
    with_key: bool,
) -> Sight:
    marks = face.landmarks_px
    pose = _pose(photo, face, sitter)
    turn_deg = pose.seen_deg[0] if pose else math.degrees(math.asin(_clip(face.matrix[0, 2])))
    near = "own_right" if turn_deg > 0 else "own_left"
    moves = _moves(photo, pose, sitter) if pose and sitter else {}
    measures = _measures(moves, sitter)
    spread = dict(POSE_SPREAD)
    if with_key and pose and sitter:
        key = _key(photo, face, pose, sitter)
        moves, spread = moves | key, spread | KEY_SPREAD
    eye_px = eye_breadth_px(face)
    places = _places(photo, face, near, eye_px)
    scale = photo.px_per_rgb_px
    return Sight(
        faces=count,
        position=position,
        moves=moves,
        spread=spread,
        measures=measures,
        eye_open=eye_open(face, turn_deg, near),
        near_eye=near,
        gaze_deg=gaze_deg(face, near),
        focus={
            place: pixels.sharpness(photo.rgb, centre / scale, half / scale)
            for place, (centre, half) in places.items()
        },
        lit_stops=_lit_stops(photo, marks, eye_px),
        ear_stops=_ear_stops(photo, pose, sitter),
        box=_box(photo, face),
        heights=_heights(photo, marks, pose, sitter),
        skin_clipped=pixels.burnt_share(
            photo.rgb,
            marks[list(_OVAL)] / scale,
            [marks[list(hole)] / scale for hole in (*EYE_OUTLINE.values(), _LIPS)],
        ),
        glare=_glare(photo, marks),
        squint=_both(face, "eyeSquintLeft", "eyeSquintRight"),
        smile=_both(face, "mouthSmileLeft", "mouthSmileRight"),
    )


def _pose(photo: Photo, face: FaceReading, sitter: Sitter | None) -> HeadPose | None:
    if sitter is None:
        return None
    return pose_quick(
        sitter.head,
        Sighting(
            landmarks_px=face.landmarks_px,
            centre_px=np.array([photo.width_px, photo.height_px]) / 2.0,
            focal=photo.focal,
            blendshapes=face.blendshapes,
        ),
    )


def distance_seen_mm(photo: Photo, face: FaceReading, sitter: Sitter) -> float | None:
    """How far off the lens is, by focal length and the head's size; None where it can't be laid."""
    pose = _pose(photo, face, sitter)
    return pose.distance_mm if pose else None


def _moves(photo: Photo, pose: HeadPose, sitter: Sitter) -> dict[str, float]:
    """What the sitter does in the studio: the seen pose, with the lens where the plan has it."""
    turn_deg, chin_deg, tilt_deg = pose_from_rotation(_studio_rotation(pose, sitter))
    moves = {
        "turn_deg": turn_deg,
        "chin_deg": chin_deg - sitter.neutral_chin_deg,
        "tilt_deg": tilt_deg,
    }
    if photo.focal.spread <= WORST_FOCAL_SPREAD:
        moves["distance_mm"] = pose.distance_mm
    return moves


def _studio_rotation(pose: HeadPose, sitter: Sitter) -> NDArray[np.float64]:
    """How the head is turned in the studio: the eyes move as it turns, and the sight with them."""
    seen = camera_axes((0.0, 0.0, 0.0), pose.place_mm) @ pose.rotation
    planned, eyes_mm = sitter.planned, np.zeros(3)
    for _ in range(_SIGHT_ROUNDS):
        studio = camera_axes(planned.lens_mm(), eyes_mm).T @ seen
        eyes_mm = moved_eyes_mm(studio, sitter.head.neck_pivot_mm, planned.chin_forward_mm)
    return studio


def _key(photo: Photo, face: FaceReading, pose: HeadPose, sitter: Sitter) -> dict[str, float]:
    """The fill ratio and where the key stands, read from the skin; even light stands nowhere."""
    stride = max(1, int(face.side_px / photo.px_per_rgb_px / KEY_FACE_PX))
    scale = photo.px_per_rgb_px * stride
    light = read_light(
        photo.rgb[::stride, ::stride],
        sitter.head,
        pose,
        photo.focal.px_at(pose.distance_mm) / scale,
        np.array([photo.width_px, photo.height_px]) / 2.0 / scale,
    )
    if light is None:
        return {}
    fill = {"fill_ratio": light.fill_ratio}
    if light.key_share < LEAST_KEY_SHARE:
        return fill
    seen = direction_from_angles(light.key_azimuth_deg, light.key_elevation_deg)
    studio = camera_axes(sitter.planned.lens_mm(), (0.0, 0.0, 0.0)).T @ seen
    azimuth_deg, elevation_deg = angles_from_direction(studio)
    return fill | {"key_azimuth_deg": azimuth_deg, "key_elevation_deg": elevation_deg}


def _measures(moves: dict[str, float], sitter: Sitter | None) -> dict[str, float]:
    """The measures of the sitter's head as the frame has it, by name.

    Each move is taken one sigma of its reading nearer the plan: some measures change at once with
    a degree, and what may be noise is no fault of the frame.
    """
    if sitter is None or not moves:
        return {}
    nearer = {
        move: value + min(spread, max(-spread, getattr(sitter.planned, move) - value))
        for move, value in moves.items()
        for spread in [POSE_SPREAD.get(move, 0.0)]
    }
    setup = sitter.planned.with_changes(**nearer)
    return dict(zip(NAMES, sitter.evaluate(setup).tolist(), strict=True))


def _box(photo: Photo, face: FaceReading) -> tuple[float, ...]:
    size = (photo.width_px, photo.height_px) * 2
    return tuple(edge / side for edge, side in zip(face.box_px, size, strict=True))


def _places(
    photo: Photo, face: FaceReading, near: str, eye_px: float
) -> dict[str, tuple[Points, float]]:
    """Where sharpness is taken: centre and half side of each square, in full-size pixels."""
    marks = face.landmarks_px
    left, top, right, _ = face.box_px
    away = right + (right - left) if photo.width_px - right > left else left - (right - left)
    away = min(max(away, 0.4 * eye_px), photo.width_px - 0.4 * eye_px)
    outward = marks[_TEMPLE[near]] - marks[_TEMPLE[OTHER[near]]]
    ear = marks[_TEMPLE[near]] + 0.06 * outward
    return {
        "near_eye": (marks[list(EYE_OUTLINE[near])].mean(axis=0), 0.22 * eye_px),
        "far_eye": (marks[list(EYE_OUTLINE[OTHER[near]])].mean(axis=0), 0.22 * eye_px),
        "ear": (ear, 0.22 * eye_px),
        "background": (np.array([away, top]), 0.4 * eye_px),
    }


def _lit_stops(photo: Photo, marks: Points, eye_px: float) -> float | None:
    scale = photo.px_per_rgb_px
    own_left, own_right = (
        pixels.luminance(photo.rgb, marks[_CHEEK[side]] / scale, 0.1 * eye_px / scale)
        for side in ("own_left", "own_right")
    )
    return pixels.stops_between(own_left, own_right)


def _ear_stops(photo: Photo, pose: HeadPose | None, sitter: Sitter | None) -> dict[str, float]:
    """Each ear in view against what is right behind it: three spots of each, their median."""
    if pose is None or sitter is None:
        return {}
    stops = {}
    for side in ("own_left", "own_right"):
        names = [f"ear_{part}_{side}" for part in ("outer", "top", "lobe")] + [f"tragus_{side}"]
        outer, top, lobe, tragus = _on_photo(photo, pose, sitter, names)
        outward, length = outer - tragus, float(np.linalg.norm(top - lobe))
        away = _on_photo(photo, pose, sitter, [f"tragus_{OTHER[side]}"])[0] - tragus
        if float(outward @ away) > 0 or np.linalg.norm(outward) < 0.15 * length:
            continue  # turned away: it lies behind the cheek, or edge on
        rim = np.array([outer, (outer + top) / 2, (outer + lobe) / 2])
        clear = 0.25 * length * outward / np.linalg.norm(outward)
        found = pixels.stops_between(
            _spots(photo, rim - 0.35 * outward, 0.08 * length),
            _spots(photo, rim + clear, 0.08 * length),
        )
        if found is not None:
            stops[side] = found
    return stops


def _spots(photo: Photo, centres: Points, half_px: float) -> float | None:
    scale = photo.px_per_rgb_px
    half_px = max(half_px / scale, 4.5)
    found = [pixels.luminance(photo.rgb, centre / scale, half_px) for centre in centres]
    known = [value for value in found if value is not None]
    return float(np.median(known)) if known else None


def _heights(
    photo: Photo, marks: Points, pose: HeadPose | None, sitter: Sitter | None
) -> dict[str, float]:
    chin = marks[_CHIN]
    rise = marks[list(_BROWS)].mean(axis=0) - chin
    length = float(np.linalg.norm(rise))
    if length == 0 or rise[1] >= 0:
        return {}  # a face on its side or upside down has no upper and lower edge
    heights = {
        "top": -chin[1] / rise[1],
        "bottom": (photo.height_px - chin[1]) / rise[1],
    }
    if pose is not None and sitter is not None:
        points = _on_photo(photo, pose, sitter, ["hairline", "crown"])
        for name, point in zip(("hairline", "crown"), points, strict=True):
            heights[name] = float((point - chin) @ rise) / length**2
    return {name: float(value) for name, value in heights.items()}


def _on_photo(photo: Photo, pose: HeadPose, sitter: Sitter, names: list[str]) -> Points:
    points_mm = np.array([sitter.head.point(name) for name in names], dtype=np.float64)
    centre = np.array([photo.width_px, photo.height_px]) / 2.0
    return project(points_mm, pose, photo.focal.px_at(pose.distance_mm), centre)


def _glare(photo: Photo, marks: Points) -> dict[str, float]:
    """White share in each pane's place: the eye's outline, twice as large."""
    shares = {}
    for side, outline in EYE_OUTLINE.items():
        points = marks[list(outline)]
        centre = points.mean(axis=0)
        pane = centre + (points - centre) * (1.6, 2.6)
        share = pixels.mirrored_share(photo.rgb, pane / photo.px_per_rgb_px)
        if share is not None:
            shares[side] = share
    return shares


def _both(face: FaceReading, first: str, second: str) -> float | None:
    shapes = face.blendshapes
    return (shapes[first] + shapes[second]) / 2 if first in shapes and second in shapes else None


def _clip(value: float) -> float:
    return max(-1.0, min(1.0, float(value)))
