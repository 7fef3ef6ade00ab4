"""Sittings of the sitters of ``faces.py``: pictures in a folder, and the truth about them.

``python -m builders.traced.sittings FOLDER`` draws the faces and photographs them; what is there
already is kept, so a stopped run goes on. A sitting has one lens; the sitter sits nearer and
farther, not quite in the middle of the frame, in another light each time; the first frame is level.
"""

import argparse
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path
from typing import Any

import mitsuba
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from builders.head.source import read_source
from builders.references.mitsuba_scene import VARIANT
from builders.traced.faces import PULLED, Face, draw_faces, load_face, save_face
from builders.traced.skin import Look, draw_look, skin_colours
from builders.traced.studio import SIZE_PX, Posed, body, draw_light, look_at, photograph
from builders.traced.wear import Wear, draw_wear
from sitwell.base.files import make_atomically, write_atomically
from sitwell.base.rotations import camera_axes, rotation_from_pose
from sitwell.brief.focal import FULL_FRAME_DIAGONAL_MM
from sitwell.head.pose import HeadPose

Array = NDArray[np.float64]
# Seen turns of a sitter's frames; the first is their level frame.
TURN_BANDS_DEG = ((0.0, 0.0), (5.0, 20.0), (5.0, 20.0), (20.0, 45.0), (20.0, 45.0), (45.0, 70.0))
_FACE_SHARE = 0.42  # of the picture that 160 mm cover at the usual distance
_NEARER = 0.25  # the distance varies by so much of itself
_ASIDE = 0.06  # of the picture that the eyes lie off its middle
_MOST_GAZE = np.radians(32.0)  # that eyes turn in the head to look into the lens
_JPEG_QUALITY = 95


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """What is true of one picture; angles in degrees against the line of sight, lengths in mm.

    ``place_mm`` (3,) is where the eye midpoint lies in the camera frame, ``pulled`` are the face's
    expressions by name and amount. ``covers`` tells how many square mm of the picture each thing
    in the way takes, of hair over the brows the share of them that it hides; ``ears_shown`` is the
    share of each ear that nothing worn hides, None where the head itself hides it.
    """

    file: str
    turn_deg: float
    chin_deg: float
    tilt_deg: float
    place_mm: tuple[float, float, float]
    key_azimuth_deg: float
    key_elevation_deg: float
    pulled: Mapping[str, float]
    covers: Mapping[str, float]
    ears_shown: tuple[float | None, float | None]

    @property
    def pose(self) -> HeadPose:
        """The head before the camera."""
        return _pose(self.turn_deg, self.chin_deg, self.tilt_deg, self.place_mm)

    @property
    def distance_mm(self) -> float:
        """From the lens to the eyes."""
        return self.pose.distance_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Sitting:
    """One sitter's pictures by one lens; ``tone`` is the skin's mean linear reflectance, ``hair``
    the name of its style, ``stubble`` how much of the beard stands in stubbles (0 to 1).
    """

    folder: Path
    face: Face
    focal_35_mm: float
    tone: float
    hair: str
    stubble: float
    shots: tuple[Shot, ...]


def read_sittings(folder: Path, count: int) -> Iterator[Sitting]:
    """Those of the first ``count`` sittings in a folder that are finished."""
    for place in sorted(folder.glob("sitting-*"))[:count]:
        shots = [
            Shot(**json.loads(kept.read_text(encoding="utf-8")))
            for kept in sorted(place.glob("frame-*.json"))
        ]
        if len(shots) == len(TURN_BANDS_DEG):
            facts = json.loads((place / "sitter.json").read_text(encoding="utf-8"))
            face = load_face(place / "face.npz")
            yield Sitting(folder=place, face=face, shots=tuple(shots), **facts)


def make_sittings(
    folder: Path, count: int, seed: int, wheel: Path | None = None, only: Sequence[int] = ()
) -> None:
    """Draw and photograph ``count`` sitters into a folder, or only some of them."""
    mitsuba.set_variant(VARIANT)
    draw_into(folder, count, seed, wheel)
    for index in only or range(count):
        photograph_into(folder, index, seed)


def draw_into(folder: Path, count: int, seed: int, wheel: Path | None) -> None:
    """Draw the faces that the folder does not hold yet."""
    places = [folder / f"sitting-{index:03d}" / "face.npz" for index in range(count)]
    if all(place.exists() for place in places):
        return
    for place, face in zip(places, draw_faces(read_source(wheel), count, seed), strict=True):
        make_atomically(place, partial(save_face, face))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sitter:
    """All that stays the same from frame to frame."""

    face: Face
    look: Look
    colours: Array
    wear: Wear
    usual_mm: float

    @property
    def focal_px(self) -> float:
        """The lens that shows the face at its usual size from the usual distance."""
        return _FACE_SHARE * SIZE_PX / 160.0 * self.usual_mm


def photograph_into(
    folder: Path, index: int, seed: int, frames: Sequence[int] | None = None
) -> None:
    """Take those pictures of one face that the folder does not hold yet, all or some of them."""
    place = folder / f"sitting-{index:03d}"
    wanted = range(len(TURN_BANDS_DEG)) if frames is None else frames
    missing = [number for number in wanted if not (place / f"frame-{number}.json").exists()]
    if not missing:
        return
    rng = np.random.default_rng((seed, index, 1))
    face, look = load_face(place / "face.npz"), draw_look(rng)
    sitter = _Sitter(
        face=face,
        look=look,
        colours=skin_colours(face.head, look),
        wear=draw_wear(face.head, look, rng),
        usual_mm=float(rng.uniform(1200, 2400)),
    )
    equivalent = sitter.focal_px / (SIZE_PX * np.sqrt(2.0)) * FULL_FRAME_DIAGONAL_MM
    facts: dict[str, Any] = {
        "focal_35_mm": float(equivalent),
        "tone": float(look.tone.mean()),
        "hair": sitter.wear.style,
        "stubble": look.stubble,
    }
    write_atomically(place / "sitter.json", json.dumps(facts, indent=1))
    for number in missing:
        shot = _taken(place, number, sitter, np.random.default_rng((seed, index, 2, number)))
        write_atomically(place / f"frame-{number}.json", json.dumps(asdict(shot), indent=1))


def _taken(place: Path, number: int, sitter: _Sitter, rng: np.random.Generator) -> Shot:
    """Take one picture and say what is true of it."""
    turn, chin, tilt = _angles(TURN_BANDS_DEG[number], rng)
    light, put = draw_light(sitter.look.tone, rng), _place(sitter.usual_mm, sitter.focal_px, rng)
    pulled = _pulled(rng) if number else {}
    pose = _pose(turn, chin, tilt, put)
    head, gaze = sitter.face.pulled(pulled), _gaze(pose, rng)
    posed = Posed(
        pose=pose,
        body=body(head, sitter.look, sitter.colours, pose, gaze),
        worn=sitter.wear.parts(pose),
    )
    file = f"frame-{number}.jpg"
    _save(place / file, photograph(posed, light, sitter.focal_px, rng))
    covered = look_at(posed, sitter.focal_px)
    return Shot(
        file=file,
        turn_deg=turn,
        chin_deg=chin,
        tilt_deg=tilt,
        place_mm=put,
        key_azimuth_deg=light.azimuth_deg,
        key_elevation_deg=light.elevation_deg,
        pulled=pulled,
        covers=covered.covers,
        ears_shown=covered.ears_shown,
    )


def _save(path: Path, rgb: NDArray[np.uint8]) -> None:
    picture = Image.fromarray(rgb)
    make_atomically(path, lambda to: picture.save(to, quality=_JPEG_QUALITY, subsampling=0))


def _angles(band: tuple[float, float], rng: np.random.Generator) -> tuple[float, float, float]:
    """Turn, chin and tilt as the picture shows them; the level frame's are nought."""
    turn = float(rng.uniform(*band) * rng.choice([-1.0, 1.0]))
    if band == (0.0, 0.0):
        return 0.0, 0.0, 0.0
    return turn, float(rng.uniform(-14, 14)), float(rng.uniform(-12, 12))


def _pose(
    turn_deg: float, chin_deg: float, tilt_deg: float, place_mm: tuple[float, float, float]
) -> HeadPose:
    """The head at a place, seen at these angles against the line of sight."""
    place = np.array(place_mm)
    sight = camera_axes(np.zeros(3), place)
    seen = rotation_from_pose(turn_deg, chin_deg, tilt_deg)
    return HeadPose(rotation=sight.T @ seen, place_mm=place)


def _place(
    usual_mm: float, focal_px: float, rng: np.random.Generator
) -> tuple[float, float, float]:
    """The eyes at some distance, a little off the middle."""
    away = usual_mm * float(rng.uniform(1.0 - _NEARER, 1.0 + _NEARER))
    aside = rng.uniform(-_ASIDE, _ASIDE, 2) * SIZE_PX / focal_px
    x, y, z = away * np.array([aside[0], aside[1], -1.0]) / np.sqrt(1.0 + aside @ aside)
    return float(x), float(y), float(z)


def _gaze(pose: HeadPose, rng: np.random.Generator) -> Array:
    """Where the eyes look, in the head frame: ahead, or toward the lens as far as they turn."""
    ahead = np.array([0.0, 0.0, 1.0])
    if rng.random() < 0.4:
        return ahead
    lens = -pose.rotation.T @ pose.place_mm / pose.distance_mm
    angle = float(np.arccos(np.clip(lens[2], -1.0, 1.0)))
    if angle < 1e-3:
        return ahead
    aside = lens - lens[2] * ahead
    turned = min(angle, _MOST_GAZE)
    aside /= np.linalg.norm(aside)
    return np.asarray(np.cos(turned) * ahead + np.sin(turned) * aside)


def _pulled(rng: np.random.Generator) -> dict[str, float]:
    """A still face half of the time, or one or two expressions."""
    if rng.random() < 0.5:
        return {}
    names = rng.choice(list(PULLED), size=int(rng.integers(1, 3)), replace=False)
    return {str(name): float(rng.uniform(0.2, PULLED[str(name)][1])) for name in names}


def main() -> None:
    """Draw and photograph."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--wheel", type=Path, help="the source wheel, if it is at hand")
    parser.add_argument("--faces", type=int, default=24)
    parser.add_argument("--seed", type=int, default=8)
    parser.add_argument(
        "--only", type=int, nargs="*", default=(), help="photograph these sittings only"
    )
    arguments = parser.parse_args()
    make_sittings(
        arguments.folder, arguments.faces, arguments.seed, arguments.wheel, arguments.only
    )


if __name__ == "__main__":
    main()
