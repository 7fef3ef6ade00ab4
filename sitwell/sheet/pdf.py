"""A planned set-up on one page of A4 or Letter, as PDF or PNG: the only use of the typesetter."""

import json
import shutil
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Literal

import numpy as np
import typst
from PIL import Image as Raster

from sitwell.base.errors import SheetError
from sitwell.base.files import make_atomically
from sitwell.base.memory import give_back
from sitwell.base.words import tr
from sitwell.brief.place_light import Daylight
from sitwell.likeness.portrayal import Image
from sitwell.likeness.vector_drawing import Drawing as Vector
from sitwell.scene.setup import Setup
from sitwell.search.plan import Plan, PlannedSetup
from sitwell.sheet.drawing import plan_drawing, side_drawing
from sitwell.sheet.page import Content, page_content
from sitwell.sheet.settings import Setting

PAPERS = ("a4", "us-letter")
KINDS = (".pdf", ".png")
PNG_PPI = 200.0
VIEWS_WIDTH_MM = 84.0
# Height of what is looked at, said and set, of which: picture, plan, side view. A discreet sheet
# has less fine print and gives the room to these.
HEIGHTS_MM = {
    ("a4", False): (196.0, 82.0, 68.0, 31.0),
    ("a4", True): (216.0, 90.0, 76.0, 34.0),
    ("us-letter", False): (180.0, 70.0, 62.0, 31.0),
    ("us-letter", True): (199.0, 80.0, 68.0, 33.0),
}
CAPTION_MM = 8.0
# The typesetter's own face covers the letters below; other scripts borrow the machine's fonts.
COVERED = 0x0590
PUNCTUATION = range(0x2000, 0x2070)
TEMPLATE = Path(__file__).with_name("page.typ")


def write_sheet(
    planned: PlannedSetup,
    plan: Plan,
    seen: Image,
    path: Path,
    *,
    caption: str = "",
    paper: str = "a4",
    discreet: bool = False,
    sitter: str = "",
    light: str = "",
    daylight: Daylight | None = None,
    more: Sequence[Setting] = (),
) -> Path:
    """One set sheet at ``path`` (.pdf or .png), whole or not at all.

    ``seen`` is a picture of the head in the set-up, (H, W, 3) or drawn, and ``caption`` what must
    be said with it. ``discreet`` leaves the moves and settings alone: no wish, measure, guard or
    gain. ``light`` is what the key is, for the care notes: "flash", "lamp", "window", "sun",
    "shade" or ""; ``daylight`` is a key that stays where it is. ``more`` settings follow the
    studio's own. Raises SheetError for a paper, kind or picture that can't be used, and where the
    file can't be written.
    """
    path = Path(path)
    _check(path, paper, seen)
    content = page_content(
        planned,
        plan,
        paper=paper,
        discreet=discreet,
        sitter=sitter,
        light=light,
        daylight=daylight,
        more=more,
        caption=caption,
    )
    with sheet_desk(path) as desk:
        heights_mm = HEIGHTS_MM[paper, discreet]
        wide = _wide(seen)
        content |= {
            "seen": lay_picture(desk, seen),
            "seen_height": min(heights_mm[1] - CAPTION_MM, VIEWS_WIDTH_MM / wide),
        }
        content |= _lay_drawings(desk, planned.setup, daylight, heights_mm)
        (desk / "page.json").write_text(json.dumps(content), encoding="utf-8")
        shutil.copyfile(TEMPLATE, desk / "page.typ")
        return make_atomically(path, lambda part: _typeset(desk, part, content))


def check_paper(paper: str) -> None:
    """Refuse a paper that has no page here, with those that have."""
    if paper not in PAPERS:
        raise SheetError(
            tr(
                "The paper '{paper}' is not known; choose one of {known}.",
                paper=paper,
                known=", ".join(PAPERS),
            )
        )


def _check(path: Path, paper: str, picture: Image) -> None:
    check_paper(paper)
    if path.suffix.lower() not in KINDS:
        raise SheetError(
            tr(
                "A sheet can't be a '{suffix}' file; give a name in .pdf or .png.",
                suffix=path.suffix,
            )
        )
    if isinstance(picture, Vector):
        return
    flat = picture.ndim != 3 or picture.shape[-1] != 3 or 0 in picture.shape
    if flat or picture.dtype != np.uint8:
        raise SheetError(
            tr(
                "A picture of shape {shape} and type {dtype} can't be printed; give rows, "
                "columns and three colours in 0 to 255.",
                shape=picture.shape,
                dtype=picture.dtype,
            )
        )


def lay_picture(desk: Path, picture: Image) -> str:
    """Save a picture for the typesetter; gives the file's name."""
    if isinstance(picture, Vector):
        (desk / "seen.svg").write_text(picture.svg(), encoding="utf-8")
        return "seen.svg"
    # for the typesetter alone, which packs it anew: not worth packing well
    Raster.fromarray(picture).save(desk / "seen.png", compress_level=1)
    return "seen.png"


def _wide(picture: Image) -> float:
    if isinstance(picture, Vector):
        return picture.width / picture.height
    return float(picture.shape[1] / picture.shape[0])


def _lay_drawings(
    desk: Path,
    setup: Setup,
    daylight: Daylight | None,
    heights_mm: tuple[float, float, float, float],
) -> Content:
    main_mm, _, plan_mm, side_mm = heights_mm
    above = plan_drawing(setup, VIEWS_WIDTH_MM, plan_mm, daylight)
    beside = side_drawing(setup, VIEWS_WIDTH_MM, side_mm, daylight)
    (desk / "plan.svg").write_text(above.svg, encoding="utf-8")
    (desk / "side.svg").write_text(beside.svg, encoding="utf-8")
    return {
        "plan": "plan.svg",
        "side": "side.svg",
        "plan_width": VIEWS_WIDTH_MM,
        "plan_height": plan_mm,
        "side_height": side_mm,
        "main_height": main_mm,
    }


def _typeset(desk: Path, part: Path, content: Content) -> None:
    """Typeset the desk's page into ``part``, in the format of its suffix."""
    kind: Literal["pdf", "png"] = "png" if part.suffix.lower() == ".png" else "pdf"
    pages = typst.compile(
        desk / "page.typ",
        root=desk,
        format=kind,
        ppi=PNG_PPI,
        ignore_system_fonts=_covered(f"{content['title']}{content['sitter']}"),
        sys_inputs={},
    )
    if not isinstance(pages, bytes):
        raise SheetError(
            tr(
                "The sheet for '{content}' doesn't fit on one page; shorten it.",
                content=content["title"],
            )
        )
    part.write_bytes(pages)
    del pages
    give_back()  # a page in pixels leaves thirty megabytes


def _covered(text: str) -> bool:
    return all(ord(letter) < COVERED or ord(letter) in PUNCTUATION for letter in text)


@contextmanager
def sheet_desk(path: Path) -> Iterator[Path]:
    """A folder to lay out the sheet for ``path`` in; SheetError where it can't be written."""
    try:
        with tempfile.TemporaryDirectory(prefix="sitwell-sheet-") as folder:
            yield Path(folder)
    except OSError as error:
        reason = error.strerror or str(error)
        raise SheetError(
            tr(
                "The sheet can't be written to {folder} ({reason}); choose a folder where you "
                "may write and that has room.",
                folder=path.parent,
                reason=reason,
            )
        ) from error
