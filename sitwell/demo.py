"""An invented sitting: a head that belongs to nobody, rendered, and the whole job run on it.

The frames are pictures of our own head model, so what is read from them can be held against what
they were made with; real skin, hair and glasses are harder.
"""

import json
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from sitwell import flow
from sitwell.base.files import make_atomically, write_atomically
from sitwell.base.formats import named
from sitwell.base.words import mark, tr
from sitwell.brief.request import Brief, SitterBrief
from sitwell.brief.wishes import Wish
from sitwell.head.reading import Reading
from sitwell.head.surface import Head, build_head
from sitwell.scene.framing import distance_for_framing
from sitwell.scene.preview import Photograph, Sculpture
from sitwell.scene.setup import Setup
from sitwell.scene.skin import Skin
from sitwell.search.plan import Plan

# The invented sitter: ears that stand out, and a nose whose tip leans to their own right.
SHAPE = {
    "ear_wing": 0.45,
    "ear_size": 0.2,
    "nose_lean": -0.35,
    "nose_length": 0.2,
    "chin_width": 0.15,
    "eye_opening_uneven": 0.12,
}
WISHES = (
    Wish(feature="ears", weight=3),
    Wish(feature="nose-bend"),
    Wish(feature="eye-balance", weight=1),
)
LABEL = mark("Invented sitter")
TAKEN = datetime(2026, 3, 14, 10, 15, 0)
HEIGHT_PX = 1800
MARKED = ("ear_top", "ear_outer", "ear_lobe")


@dataclass(frozen=True, slots=True, kw_only=True)
class Demo:
    """What the demo made: its frames as taken and as read, the plan and the files."""

    folder: Path
    taken: tuple[Setup, ...]
    made: flow.SittingPlan
    files: tuple[Path, ...]

    @property
    def reading(self) -> Reading:
        """The frames as read."""
        return self.made.sitters[0].reading

    @property
    def plan(self) -> Plan:
        """The invented sitter's plan."""
        return self.made.found.parts[0]


def run(folder: Path, progress: flow.Progress | None = None) -> Demo:
    """Make the frames and marks in ``folder``, read them, plan, and print the sheets there."""
    taken = frames_to_take()
    frames, marks = write_frames(build_head(SHAPE), taken, folder / "frames")
    invented = SitterBrief(
        name=tr(LABEL), frames=tuple(frames), marks=marks, level=frames[0], wishes=WISHES
    )
    brief = Brief(sitters=(invented,), discreet=True)
    sitters = flow.read(brief)
    made = flow.plan(brief, sitters, progress=progress)
    # The sitter is invented, so nobody has to be asked.
    files = flow.write_sheets(made, folder, agreed=True)
    return Demo(folder=folder, taken=taken, made=made, files=(*frames, marks, *files))


def frames_to_take() -> tuple[Setup, ...]:
    """Three test frames: level, and turned about 25 degrees to either side."""
    setup = Setup(focal_mm=85.0, f_number=5.6, framing="tight-head", aspect="2:3")
    setup = setup.with_changes(distance_mm=distance_for_framing(setup))
    return tuple(
        setup.with_changes(turn_deg=turn_deg, chin_deg=chin_deg)
        for turn_deg, chin_deg in ((0.0, 0.0), (24.0, 3.0), (-26.0, -2.0))
    )


def write_frames(
    head: Head, setups: tuple[Setup, ...], folder: Path, skin: Skin | None = None
) -> tuple[list[Path], Path]:
    """The frames as JPEG with EXIF, marked as invented, and the marks of the ears in view."""
    sculpture, paths, marks = Sculpture(head, skin), [], {}
    for index, setup in enumerate(setups):
        shot = sculpture.photograph(setup, HEIGHT_PX)
        path = folder / f"invented-{index + 1}.jpg"
        paths.append(_save(shot.rgb, setup, TAKEN + timedelta(seconds=20 * index), path))
        marks[path.name] = _ear_marks(shot, setup)
    return paths, write_atomically(
        folder / "marks.json", json.dumps(named("marks", marks), indent=1)
    )


def _ear_marks(shot: Photograph, setup: Setup) -> dict[str, list[float]]:
    """The ears as a person would mark them: both from the front, else the near one."""
    far = {1: "own_left", -1: "own_right", 0: ""}[int(np.sign(setup.turn_deg))]
    return {
        f"{point}_{side}": [round(place) for place in shot.place_px(f"{point}_{side}")]
        for side in ("own_left", "own_right")
        if side != far
        for point in MARKED
    }


def _save(rgb: NDArray[np.uint8], setup: Setup, taken: datetime, path: Path) -> Path:
    picture = Image.fromarray(rgb)
    words = tr("Invented sitter, a rendered head: nobody was photographed")
    draw = ImageDraw.Draw(picture)
    draw.text(
        (24, picture.height - 48), words, fill=(190, 190, 190), font=ImageFont.load_default(26)
    )
    exif = Image.Exif()
    exif[0x010E] = words  # ImageDescription
    exif[0x0132] = taken.strftime("%Y:%m:%d %H:%M:%S")  # DateTime
    exif.get_ifd(0x8769).update(
        {
            0x829D: setup.f_number,
            0x9003: taken.strftime("%Y:%m:%d %H:%M:%S"),  # DateTimeOriginal
            0x920A: setup.focal_mm,
            0xA405: round(setup.focal_mm),  # FocalLengthIn35mmFilm, a 36 x 24 mm sensor
        }
    )
    return make_atomically(path, lambda part: picture.save(part, quality=92, exif=exif))
