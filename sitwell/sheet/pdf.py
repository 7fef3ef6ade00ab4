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
from numpy.typing import NDArray
from PIL import Image

from sitwell.base.errors import SheetError
from sitwell.base.files import make_atomically
from sitwell.base.memory import give_back
from sitwell.base.words import tr
from sitwell.brief.place_light import Daylight
from sitwell.scene.setup import Setup
from sitwell.search.plan import Plan, PlannedSetup
from sitwell.sheet.drawing import plan_drawing, side_drawing
from sitwell.sheet.page import Content, page_content
from sitwell.sheet.settings import Setting

PAPERS = ("a4", "us-letter")
KINDS = (".pdf", ".png")
PNG_PPI = 200.0
VIEWS_WIDTH_MM = 84.0
# Height of what is looked at, said and set, of which: pictures, plan, side view. A discreet sheet
# has less fine print and gives the room to these.
HEIGHTS_MM = {
    ("a4", False): (189.0, 64.0, 74.0, 32.0),
    ("a4", True): (226.0, 84.0, 86.0, 36.0),
    ("us-letter", False): (173.0, 58.0, 64.0, 32.0),
    ("us-letter", True): (208.0, 74.0, 80.0, 35.0),
}
CAPTION_MM, PICTURE_GAP_MM, STRAIGHT_ON_SHARE = 5.0, 3.0, 0.6
# The typesetter's own face covers the letters below; other scripts borrow the machine's fonts.
COVERED = 0x0590
PUNCTUATION = range(0x2000, 0x2070)
TEMPLATE = Path(__file__).with_name("page.typ")


def write_sheet(
    planned: PlannedSetup,
    plan: Plan,
    seen: NDArray[np.uint8],
    straight_on: NDArray[np.uint8],
    path: Path,
    *,
    paper: str = "a4",
    discreet: bool = False,
    sitter: str = "",
    light: str = "",
    daylight: Daylight | None = None,
    more: Sequence[Setting] = (),
) -> Path:
    """One set sheet at ``path`` (.pdf or .png), whole or not at all.

    ``seen`` and ``straight_on`` are pictures (H, W, 3) of the head in the set-up and straight on.
    ``discreet`` leaves the moves and settings alone: no wish, measure, guard, reason or gain, and
    no straight-on picture to compare with. ``light`` is what the key is, for the care notes:
    "flash", "lamp", "window", "sun", "shade" or ""; ``daylight`` is a key that stays where it is.
    ``more`` settings follow the studio's own. Raises SheetError for a paper, kind or picture that
    can't be used, and where the file can't be written.
    """
    path = Path(path)
    _check(path, paper, seen, straight_on)
    content = page_content(
        planned,
        plan,
        paper=paper,
        discreet=discreet,
        sitter=sitter,
        light=light,
        daylight=daylight,
        more=more,
    )
    with sheet_desk(path) as desk:
        heights_mm = HEIGHTS_MM[paper, discreet]
        content |= _lay_pictures(desk, heights_mm[1], seen, None if discreet else straight_on)
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


def _check(path: Path, paper: str, *pictures: NDArray[np.uint8]) -> None:
    check_paper(paper)
    if path.suffix.lower() not in KINDS:
        raise SheetError(
            tr(
                "A sheet can't be a '{suffix}' file; give a name in .pdf or .png.",
                suffix=path.suffix,
            )
        )
    for picture in pictures:
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


def _lay_pictures(
    desk: Path,
    height_mm: float,
    seen: NDArray[np.uint8],
    straight_on: NDArray[np.uint8] | None,
) -> Content:
    """Save the pictures and size them to fill the width, or the height where that is less."""
    _save(seen, desk / "seen.png")
    room_mm = height_mm - CAPTION_MM
    if straight_on is None:
        seen_mm = min(room_mm, VIEWS_WIDTH_MM / _wide(seen))
        return {"seen": "seen.png", "seen_height": seen_mm, "straight": None}
    _save(straight_on, desk / "straight.png")
    wide = _wide(seen) + STRAIGHT_ON_SHARE * _wide(straight_on)
    seen_mm = min(room_mm, (VIEWS_WIDTH_MM - PICTURE_GAP_MM) / wide)
    return {
        "seen": "seen.png",
        "seen_height": seen_mm,
        "straight": "straight.png",
        "straight_height": STRAIGHT_ON_SHARE * seen_mm,
    }


def _save(picture: NDArray[np.uint8], path: Path) -> None:
    # for the typesetter alone, which packs it anew: not worth packing well
    Image.fromarray(picture).save(path, compress_level=1)


def _wide(picture: NDArray[np.uint8]) -> float:
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
