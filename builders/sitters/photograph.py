"""Photograph the invented sitters into a folder, each with the truth about its frames.

``python -m builders.sitters.photograph FOLDER --heads ARRAYS`` takes those of the benchmark
(``benchmarks/accuracy_likeness.py``); ``--demo`` takes the demo's, into the package. Hours on a
few cores; with ``--variant cuda_ad_rgb`` and a GPU a few seconds a frame. What is there already is
kept, so a stopped run goes on.
"""

import argparse
import dataclasses
import json
import math
from collections.abc import Sequence
from functools import partial
from io import BytesIO
from pathlib import Path

import mitsuba
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from builders.families.wrapped_heads import second_faces
from builders.references.mitsuba_scene import VARIANT
from builders.sitters.cast import DEMO, TRIED, Person
from builders.sitters.studio import Frame, Quality, Studio
from builders.traced.faces import load_face, save_face
from sitwell.base.files import make_atomically, write_atomically
from sitwell.brief.focal import FULL_FRAME_DIAGONAL_MM
from sitwell.demo_sitters import SITTERS
from sitwell.head.surface import SIDES, Head, build_head
from sitwell.scene.framing import picture_size_mm
from sitwell.scene.setup import Setup

Array = NDArray[np.float64]
DEMO_FRAMES = Path(__file__).parent.parent.parent / "sitwell" / "demo_frames"
# turn, chin and the key's azimuth of the benchmark's frames, in degrees
POSES_DEG = (
    *((turn, 0.0, 35.0) for turn in (0.0, 10.0, 20.0, 30.0, -10.0, -20.0, -30.0)),
    (0.0, 8.0, 35.0), (0.0, -8.0, 35.0), (0.0, 0.0, -40.0),
)  # fmt: skip
MARKED = ("ear_top", "ear_outer", "ear_lobe")
_SECOND_SEED, _HELD_MM = 15, 430.0
_DEMO_QUALITY, _DEMO_BYTES = Quality(height_px=1350, samples=96), 150_000
_QUALITY = Quality(height_px=720, samples=48)
_JPEG_QUALITIES = (92, 88, 84, 80, 76, 72)


def tried_setups() -> tuple[Setup, ...]:
    """The set-ups of the benchmark's frames."""
    setup = Setup(focal_mm=85.0, f_number=5.6, framing="head-and-shoulders", aspect="4:5")
    _, tall_mm = picture_size_mm(setup)
    setup = setup.with_changes(distance_mm=setup.focal_mm * (1.0 + _HELD_MM / tall_mm))
    return tuple(
        setup.with_changes(turn_deg=turn, chin_deg=chin, key_azimuth_deg=key)
        for turn, chin, key in POSES_DEG
    )


def draw_second(arrays: Path, folder: Path) -> None:
    """Keep the heads of the second family in the folder, so that the arrays need not travel."""
    wanted = [person for person in TRIED if person.second is not None]
    faces = second_faces(arrays, 1 + max(person.second or 0 for person in wanted), _SECOND_SEED)
    for person in wanted:
        path = folder / f"{person.name}.npz"
        if not path.exists():
            make_atomically(path, partial(save_face, faces[person.second or 0]))


def head_of(person: Person, folder: Path) -> Head:
    """The head of a person of either family."""
    if person.second is None:
        return build_head(person.shape, person.expression)
    return load_face(folder / f"{person.name}.npz").head


def take_tried(person: Person, folder: Path, quality: Quality, chosen: Sequence[int]) -> None:
    """Take those of a person's frames that are chosen and not there yet."""
    place = folder / person.name
    setups = tried_setups()
    missing = [k for k in chosen if not (place / f"frame-{k}.json").exists()]
    if not missing:
        return
    studio = Studio(person, head_of(person, folder), quality)
    for number in missing:
        frame = studio.frame(setups[number])
        path = place / f"frame-{number}.jpg"
        _keep(frame.picture(person, number), setups[number], path)
        cover = np.round(255.0 * frame.cover).astype(np.uint8)
        make_atomically(path.with_suffix(".npz"), partial(_keep_cover, cover))
        truth = {
            "setup": dataclasses.asdict(setups[number]),
            "points_px": _points(frame),
            "group": person.group,
            "hair": person.hair,
        }
        write_atomically(place / f"frame-{number}.json", json.dumps(truth, indent=1))


def take_demo(person: Person, folder: Path, quality: Quality, chosen: Sequence[int]) -> None:
    """Take the frames of one of the demo's sitters, and mark the ears in view on them."""
    sitter = next(sitter for sitter in SITTERS if sitter.name == person.name)
    setups = sitter.taken
    studio, marks = Studio(person, build_head(person.shape, person.expression), quality), {}
    for number in [k for k in chosen if k < len(setups)]:
        frame = studio.frame(setups[number])
        name = f"{person.name}-{number + 1}.jpg"
        _keep(frame.picture(person, number), setups[number], folder / name, _DEMO_BYTES)
        if person.ears_show:
            marks[name] = _ear_marks(frame, setups[number])
    write_atomically(folder / f"{person.name}.json", json.dumps(marks, indent=1))


def _keep(rgb: NDArray[np.uint8], setup: Setup, path: Path, most_bytes: float = math.inf) -> None:
    """A JPEG that says what it is and by what lens."""
    path.parent.mkdir(parents=True, exist_ok=True)
    exif = Image.Exif()
    exif[0x010E] = "Invented sitter, a rendered head: nobody was photographed"
    wide_mm, tall_mm = picture_size_mm(setup)
    equivalent = setup.focal_mm * FULL_FRAME_DIAGONAL_MM / float(np.hypot(wide_mm, tall_mm))
    exif.get_ifd(0x8769).update(
        {0x829D: setup.f_number, 0x920A: setup.focal_mm, 0xA405: round(equivalent)}
    )
    for quality in _JPEG_QUALITIES:
        buffer = BytesIO()
        Image.fromarray(rgb).save(buffer, "JPEG", quality=quality, optimize=True, exif=exif)
        if buffer.tell() <= most_bytes:
            break
    write_atomically(path, buffer.getvalue())


def _keep_cover(cover: NDArray[np.uint8], path: Path) -> None:
    np.savez_compressed(path, cover=cover)


def _points(frame: Frame) -> dict[str, list[float]]:
    names = list(frame.view.anatomy.point_index)
    places = frame.place_px(np.array([frame.view.point_mm(name) for name in names]))
    return {
        name: [round(float(v), 2) for v in place] for name, place in zip(names, places, strict=True)
    }


def _ear_marks(frame: Frame, setup: Setup) -> dict[str, list[float]]:
    """The ears as a person would mark them: both from the front, else the near one."""
    far = {1: "own_left", -1: "own_right", 0: ""}[int(np.sign(setup.turn_deg))]
    points = _points(frame)
    return {
        f"{point}_{side}": [round(v) for v in points[f"{point}_{side}"]]
        for side in SIDES
        if side != far
        for point in MARKED
    }


def main() -> None:
    """Photograph."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path, nargs="?", default=DEMO_FRAMES)
    parser.add_argument("--demo", action="store_true", help="the demo's sitters")
    parser.add_argument("--heads", type=Path, help="the second family's arrays")
    parser.add_argument("--only", nargs="*", help="these people only")
    parser.add_argument("--frames", type=int, nargs="*", help="these frames only")
    parser.add_argument("--variant", default=VARIANT, help="of Mitsuba; scalar_rgb needs no GPU")
    parser.add_argument("--height-px", type=int, help="smaller, for a quick look")
    parser.add_argument("--samples", type=int, help="paths a pixel")
    parser.add_argument("--strands", type=float, default=1.0, help="share of the hair")
    arguments = parser.parse_args()
    mitsuba.set_variant(arguments.variant)
    quality = _DEMO_QUALITY if arguments.demo else _QUALITY
    quality = Quality(
        height_px=arguments.height_px or quality.height_px,
        samples=arguments.samples or quality.samples,
        strands=arguments.strands,
    )
    arguments.folder.mkdir(parents=True, exist_ok=True)
    if arguments.heads is not None:
        draw_second(arguments.heads, arguments.folder)
    take, people = (take_demo, DEMO) if arguments.demo else (take_tried, TRIED)
    for person in people:
        if arguments.only is None or person.name in arguments.only:
            frames = arguments.frames or range(len(POSES_DEG))
            take(person, arguments.folder, quality, list(frames))


if __name__ == "__main__":
    main()
