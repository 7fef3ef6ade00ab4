"""What was read of a sitting of ``builders/traced/sittings.py`` beside what is true of it.

The pictures go through ``read_photos`` as files, the level frame named and the lens told, so all
that the product does is in what is compared; two simpler ways stand beside it.
"""

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchmarks.accuracy_ears import LEAST_SHARE, LOOKED_AT_DEG, ears_of, gone_at_deg
from builders.traced.sittings import Shot, Sitting
from sitwell.base.errors import FaceError
from sitwell.base.rotations import camera_axes, direction_from_angles
from sitwell.head.bias import LandmarkBias, load_bias
from sitwell.head.level import level_head
from sitwell.head.obscured import EAR_COVERED
from sitwell.head.pose import HeadPose, pose_quick
from sitwell.head.reading import FrameReading, Reading, read_photos
from sitwell.head.report import reading_as_dict
from sitwell.head.sizes import head_sizes
from sitwell.head.surface import SIDES, build_head

Array = NDArray[np.float64]
READ, PNP, OWN = "as it is read", "PnP on the mean head", "the landmarker's own matrix"
BAND = 1.645  # nine in ten of a normal spread
HAIR_OVER_EARS = "hair-over-ears"
HIDDEN_EAR, OPEN_EAR = 0.3, 0.85  # share of an ear in view below and above which it counts as such
# A thing is there from so many square millimetres, and not there below a tenth of it.
LEAST_MM2 = {"glasses": 100.0, "hat": 500.0, "beard": 500.0, "mask": 500.0, "hand": 750.0}
_FRINGE_SHARE = 0.35  # of the brows under hair
_EARS = tuple(EAR_COVERED[side] for side in SIDES)
THINGS = (*LEAST_MM2, "hair-over-brows", *_EARS)
_OPEN_EYES = ("blink", "squint")  # frames without them show how the sitter holds the lids


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameRow:
    """One frame: errors (3,) of turn, chin and tilt by method, None where no face was found.

    ``things`` are what was named in the way, ``left_out`` whether it did not shape the head.
    ``inside`` says of each stated value whether the truth lies in its band; ``far_share`` is the
    distance's error as a share (with the sitter's true pupils in ``far_told_share``), ``key_deg``
    the key's errors in azimuth, elevation and as one angle, None where none is stated.
    """

    shot: Shot
    level: bool
    errors: Mapping[str, Array] | None
    inside: Mapping[str, bool]
    far_share: float
    far_told_share: float
    key_deg: tuple[float, float, float] | None
    things: frozenset[str]
    left_out: bool

    @property
    def turn_deg(self) -> float:
        """The seen turn to either side."""
        return abs(self.shot.turn_deg)


@dataclass(frozen=True, slots=True, kw_only=True)
class SitterRow:
    """One sitter: ``read`` and ``true`` lengths with ``sigma``, what a turn does to the ears.

    ``shares_off`` and ``turns_off_deg`` are by ear (2, ...), nan where there is nothing to compare.
    """

    sitting: Sitting
    read: Mapping[str, float | None]
    true: Mapping[str, float]
    sigma: Mapping[str, float | None]
    shares_off: Array
    turns_off_deg: Array
    frames: tuple[FrameRow, ...]

    def wears(self, thing: str) -> bool:
        """Whether any frame shows a thing in the way, or hair over an ear."""
        if thing == HAIR_OVER_EARS:
            return bool((self.ears_shown < HIDDEN_EAR).any())
        return any(is_there(self.sitting, frame.shot, thing) for frame in self.frames)

    @property
    def ears_shown(self) -> Array:
        """The least share of each ear (2,) that what is worn leaves in view."""
        shown = [[1.0 if s is None else s for s in f.shot.ears_shown] for f in self.frames]
        return np.asarray(np.min(shown, axis=0))


def is_there(sitting: Sitting, shot: Shot, thing: str) -> bool | None:
    """Whether a picture shows a thing in the way; None where it hardly does, as with stubble."""
    if thing in _EARS:
        shown = shot.ears_shown[_EARS.index(thing)]
        if shown is None:
            return None
        return True if shown < HIDDEN_EAR else False if shown > OPEN_EAR else None
    covers, least = shot.covers.get(thing, 0.0), LEAST_MM2.get(thing, _FRINGE_SHARE)
    if thing == "beard" and covers < least and sitting.stubble > 0.0:
        return None
    return None if 0.1 * least < covers < least else covers > least


def read_sitting(sitting: Sitting) -> SitterRow | None:
    """Read a sitting as a photographer would; None where the level frame shows no face."""
    files = [sitting.folder / shot.file for shot in sitting.shots]
    try:
        reading = read_photos(files, level=0, focal_35_mm=sitting.focal_35_mm)
    except FaceError:
        return None
    said = reading_as_dict(reading)
    true = _true_sizes(sitting)
    scale = true["interpupillary_mm"] / float(said["head"]["interpupillary_mm"])
    shares, turns = _ears(sitting, reading)
    return SitterRow(
        sitting=sitting,
        read=said["head"],
        true=true,
        sigma=said["head_spread"],
        shares_off=shares,
        turns_off_deg=turns,
        frames=tuple(
            _frame_row(shot, frame, row, reading.frames[0], scale)
            for shot, frame, row in zip(sitting.shots, reading.frames, said["frames"], strict=True)
        ),
    )


def _true_sizes(sitting: Sitting) -> dict[str, float]:
    """Lengths of the sitter, the eyes as held in the frames that neither blink nor squint."""
    true = head_sizes(sitting.face.head)
    still = [shot for shot in sitting.shots if not set(_OPEN_EYES) & set(shot.pulled)]
    names = [f"eye_opening_{side}_mm" for side in SIDES]
    held = [head_sizes(sitting.face.pulled(shot.pulled)) for shot in still]
    openings = np.median([[sizes[name] for name in names] for sizes in held], axis=0)
    true |= dict(zip(names, openings.tolist(), strict=True))
    return true | {"eye_opening_ratio": float(openings[0] / openings[1])}


def _frame_row(
    shot: Shot, frame: FrameReading, row: Mapping[str, Any], level: FrameReading, scale: float
) -> FrameRow:
    nothing = float("nan")
    if frame.pose is None or frame.fitted is None:
        return FrameRow(
            shot=shot, level=frame is level, errors=None, inside={}, far_share=nothing,
            far_told_share=nothing, key_deg=None, things=frozenset(), left_out=False,
        )  # fmt: skip
    seen = np.array([shot.turn_deg, shot.chin_deg, shot.tilt_deg])
    own = {
        READ: np.array(frame.pose.seen_deg),
        PNP: _from_level(_pnp(frame), _pnp(level)),
        OWN: _from_level(_own(frame), _own(level)),
    }
    far = row["distance_mm"] / shot.distance_mm
    return FrameRow(
        shot=shot,
        level=frame is level,
        errors={name: angles - seen for name, angles in own.items()},
        inside=_inside(shot, row, level=frame is level),
        far_share=abs(np.log(far)),
        far_told_share=abs(np.log(far * scale)),
        key_deg=_key_off(shot, row),
        things=frame.found.things,
        left_out=frame.left_out is not None,
    )


def _inside(shot: Shot, row: Mapping[str, Any], *, level: bool) -> dict[str, bool]:
    """Whether each stated value of a frame is as near the truth as its spread says."""
    names = ["distance_mm"] + ([] if level else ["turn_deg", "chin_deg", "tilt_deg"])
    inside = {}
    for name in names:
        stem, unit = name.rsplit("_", 1)
        off = abs(row[name] - getattr(shot, name))
        inside[stem] = bool(off < BAND * row[f"{stem}_spread_{unit}"])
    key = _key_off(shot, row)
    if key is not None:
        inside["key azimuth"] = key[0] < BAND * row["key_spread_deg"]
        inside["key elevation"] = key[1] < BAND * row["key_spread_deg"]
    return inside


def _key_off(shot: Shot, row: Mapping[str, Any]) -> tuple[float, float, float] | None:
    """How far the key is off: along azimuth on the sphere, in elevation, and in all."""
    azimuth_deg, elevation_deg = row["key_azimuth_deg"], row["key_elevation_deg"]
    if azimuth_deg is None:
        return None
    read = direction_from_angles(azimuth_deg, elevation_deg)
    true = direction_from_angles(shot.key_azimuth_deg, shot.key_elevation_deg)
    return (
        abs(azimuth_deg - shot.key_azimuth_deg) * float(np.cos(np.radians(shot.key_elevation_deg))),
        abs(elevation_deg - shot.key_elevation_deg),
        float(np.degrees(np.arccos(np.clip(read @ true, -1.0, 1.0)))),
    )


def _from_level(pose: HeadPose, level: HeadPose) -> Array:
    """Seen angles counted from the level frame's, as a reading counts them."""
    neutral = camera_axes(np.zeros(3), level.place_mm) @ level.rotation
    counted = dataclasses.replace(pose, rotation=pose.rotation @ neutral.T)
    return np.array(counted.seen_deg)


@cache
def plain_bias() -> LandmarkBias:
    """No learned errors: every landmark alike and by itself."""
    learned = load_bias()
    size = len(learned.directions)
    return dataclasses.replace(
        learned,
        offset=np.zeros_like(learned.offset),
        answer=np.zeros((size, size)),
        by_frame=np.eye(size),
        by_sitter=np.zeros((size, size)),
    )


def _pnp(frame: FrameReading) -> HeadPose:
    sighting = frame.sighting
    if sighting is None:
        raise SystemExit("Only frames with a face have a pose.")
    bare = dataclasses.replace(sighting, marks=())
    return pose_quick(build_head(), bare, bias=plain_bias())


def _own(frame: FrameReading) -> HeadPose:
    """The landmarker's own pose, by its own idea of the camera."""
    if frame.face is None:
        raise SystemExit("Only frames with a face have a pose.")
    matrix = np.asarray(frame.face.matrix)
    rotation = matrix[:3, :3] / np.cbrt(np.linalg.det(matrix[:3, :3]))
    return HeadPose(rotation=rotation, place_mm=10.0 * matrix[:3, 3])


def _ears(sitting: Sitting, reading: Reading) -> tuple[Array, Array]:
    """How far visible shares are off (2, n), and the turn that hides it (2,), in degrees."""
    truth = ears_of(sitting.face.head)
    ears = ears_of(level_head(reading.require_head(), reading.frames[0].neutral))
    seen, found = (each[:, LOOKED_AT_DEG, 0] for each in (truth, ears))  # toward, turn, ear
    off = np.abs(found / np.where(seen > 0.0, seen, 1.0) - 1.0)
    off = np.where(seen >= LEAST_SHARE, off, np.nan)
    turns = np.abs(np.subtract(gone_at_deg(ears), gone_at_deg(truth)))
    return np.moveaxis(off, -1, 0).reshape(2, -1), turns
