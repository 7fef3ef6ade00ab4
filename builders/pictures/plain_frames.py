"""Frames of a head by itself, drawn in a second: what is read from them is known to the degree.

Tests and benchmarks take them, of any head and in any skin. The demo's own frames are of people
with hair and clothes (``builders/sitters/``).
"""

import json
from datetime import timedelta
from pathlib import Path

import numpy as np

from sitwell import demo
from sitwell.base.files import write_atomically
from sitwell.base.formats import named
from sitwell.demo_sitters import SITTERS
from sitwell.head.surface import SIDES, Head
from sitwell.scene.preview import Photograph, Sculpture
from sitwell.scene.setup import Setup
from sitwell.scene.skin import Skin

SHAPE = SITTERS[0].shape
HEIGHT_PX = 1800
MARKED = ("ear_top", "ear_outer", "ear_lobe")


def frames_to_take() -> tuple[Setup, ...]:
    """Three test frames: level, and turned about 25 degrees to either side."""
    return SITTERS[0].taken


def write_frames(
    head: Head, setups: tuple[Setup, ...], folder: Path, skin: Skin | None = None
) -> tuple[list[Path], Path]:
    """The frames as JPEG with EXIF, marked as invented, and the marks of the ears in view."""
    sculpture, paths, marks = Sculpture(head, skin), [], {}
    for index, setup in enumerate(setups):
        shot = sculpture.photograph(setup, HEIGHT_PX)
        path = folder / f"invented-{index + 1}.jpg"
        taken = demo.TAKEN + timedelta(seconds=20 * index)
        paths.append(demo.save_frame(shot.rgb, setup, taken, path))
        marks[path.name] = ears_in_view(setup, shot)
    return paths, write_atomically(
        folder / "marks.json", json.dumps(named("marks", marks), indent=1)
    )


def ears_in_view(setup: Setup, shot: Photograph) -> dict[str, list[float]]:
    """The ears as a person would mark them: both from the front, else the near one."""
    far = {1: "own_left", -1: "own_right", 0: ""}[int(np.sign(setup.turn_deg))]
    return {
        f"{point}_{side}": [round(place) for place in shot.place_px(f"{point}_{side}")]
        for side in SIDES
        if side != far
        for point in MARKED
    }
