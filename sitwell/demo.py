"""An invented sitting: people who are nobody, rendered, and the whole job run on their frames.

The frames are path-traced pictures of our own head model with strand hair, skin and clothes, made
by ``builders/sitters/``. What is read from them can be held against what they were made with; real
people are harder.
"""

import json
import tempfile
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from sitwell import flow
from sitwell.base.files import make_atomically, write_atomically
from sitwell.base.formats import named
from sitwell.base.kernels import all_kept, remember_all_kept
from sitwell.base.words import mark, tr
from sitwell.brief.photos import open_photo
from sitwell.brief.request import Brief, SitterBrief
from sitwell.demo_sitters import SITTERS, InventedSitter
from sitwell.head.reading import Reading
from sitwell.scene.setup import Setup
from sitwell.search.plan import Plan

LABEL = mark("Invented sitter")
TAKEN = datetime(2026, 3, 14, 10, 15, 0)
_FEW_LOOKS = 60
SHIPPED = Path(__file__).parent / "demo_frames"


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


def run(
    folder: Path, progress: flow.Progress | None = None, sitter: InventedSitter = SITTERS[0]
) -> Demo:
    """Put the frames and marks into ``folder``, read them, plan, and print the sheets there."""
    frames, marks = lay_out_frames(sitter, folder / "frames")
    brief = Brief(sitters=(brief_of_frames(sitter, frames, marks),), discreet=True)
    sitters = flow.read(brief)
    made = flow.plan(brief, sitters, progress=progress)
    # The sitter is invented, so nobody has to be asked.
    files = flow.write_sheets(made, folder, agreed=True)
    return Demo(folder=folder, taken=sitter.taken, made=made, files=(*frames, marks, *files))


def rehearse() -> None:
    """Run the whole job once on little, so that all that is compiled is there when it is needed."""
    if all_kept():
        return
    sitter = SITTERS[0]
    with tempfile.TemporaryDirectory(prefix="sitwell-") as name:
        frames, marks = lay_out_frames(sitter, Path(name) / "frames")
        asked = brief_of_frames(sitter, frames[:1], marks)
        brief = Brief(sitters=(replace(asked, glasses=True),))
        sitters = flow.read(brief)
        made = flow.plan(brief, sitters, looks=_FEW_LOOKS)
        flow.write_sheets(made, Path(name))
        flow.picture(sitters[0].head, made.found.setups[0].setup.shared)
    remember_all_kept()


def brief_of_frames(sitter: InventedSitter, frames: list[Path], marks: Path) -> SitterBrief:
    """What the photographer would say of an invented sitter."""
    return SitterBrief(
        name=tr(LABEL), frames=tuple(frames), marks=marks, level=frames[0], wishes=sitter.wishes,
    )  # fmt: skip


def lay_out_frames(sitter: InventedSitter, folder: Path) -> tuple[list[Path], Path]:
    """A sitter's frames as JPEG with EXIF, marked as invented, and the marks of the bare ears."""
    paths = []
    for index, setup in enumerate(sitter.taken):
        name = f"{sitter.name}-{index + 1}.jpg"
        rgb = open_photo(SHIPPED / name).rgb
        paths.append(save_frame(rgb, setup, TAKEN + timedelta(seconds=20 * index), folder / name))
    marks = json.loads((SHIPPED / f"{sitter.name}.json").read_text(encoding="utf-8"))
    return paths, write_atomically(
        folder / "marks.json", json.dumps(named("marks", marks), indent=1)
    )


def save_frame(rgb: NDArray[np.uint8], setup: Setup, taken: datetime, path: Path) -> Path:
    """A frame as JPEG that says in its picture and in its EXIF what it is, and by what lens."""
    picture = Image.fromarray(rgb)
    words = tr("Invented sitter, a rendered head: nobody was photographed")
    draw = ImageDraw.Draw(picture)
    # on the wall: on the sitter it would come into every picture that is made from the frame
    draw.text((24, 22), words, fill=(190, 190, 190), font=ImageFont.load_default(26))
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
