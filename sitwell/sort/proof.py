"""A proof sheet: the frames put forward, each in its crop, as a PDF to look through on paper.

It shows pictures, numbers and file names. What there is to fix stays off it, because the sitter
may see it, unless ``with_notes`` asks for the list of what is left to retouch at the end.
"""

import json
import shutil
import tempfile
from collections.abc import Iterable
from pathlib import Path

import typst
from PIL import Image

from sitwell.base.errors import PhotoError, SheetError, SortError
from sitwell.base.files import write_atomically
from sitwell.base.words import language, ntr, tr
from sitwell.brief.photos import open_photo
from sitwell.sort.handover import left_to_retouch
from sitwell.sort.rank import Ranked, RankedBurst
from sitwell.sort.sorting import Progress

Box = tuple[float, float, float, float]
THUMB_PX = 640
ASPECT = "4:5"
# Eyes lie at about two fifths of a landmark box from its top; a third of the frame is above them.
_EYES_IN_BOX, _EYES_IN_FRAME = 0.35, 0.36


def write_proof(
    path: Path,
    folder: Path,
    bursts: Iterable[RankedBurst],
    title: str,
    with_notes: bool = False,
    progress: Progress | None = None,
) -> Path:
    """Write the PDF of every frame put forward; raises SortError when there is none.

    ``progress`` is called with how many frames are drawn and how many there are.
    """
    kept = [burst for burst in bursts if burst.best]
    if not kept:
        raise SortError(
            tr(
                "Nothing in '{folder}' was put forward, so there is no proof sheet.",
                folder=folder.name,
            )
        )
    with tempfile.TemporaryDirectory(prefix="sitwell-proof-") as name:
        place = Path(name)
        frames = [burst.best for burst in kept if burst.best]
        entries = []
        for number, frame in enumerate(frames, start=1):
            entries.append(_entry(place, folder, frame, number))
            if progress:
                progress(number, len(frames))
        sheet = {
            "title": _printable(title),
            "language": language(),
            "count": ntr("{count} frame", "{count} frames", len(frames)),
            "frames": entries,
            "notes_title": tr("Left to retouch"),
            "notes": [_note(*left) for left in left_to_retouch(kept)] if with_notes else [],
        }
        (place / "sheet.json").write_text(json.dumps(sheet), encoding="utf-8")
        shutil.copy(Path(__file__).with_name("proof.typ"), place / "proof.typ")
        return write_atomically(path, _compiled(place / "proof.typ"))


def crop_box(width: float, height: float, faces: Iterable[Box], aspect: str) -> Box:
    """The largest crop of an aspect, in shares, that keeps all faces and sets the eyes well.

    Where the faces do not fit into it, the whole picture. ``aspect`` is width:height upright; a
    picture wider than high keeps its own way round.
    """
    boxes = list(faces)
    if not boxes:
        return (0.0, 0.0, 1.0, 1.0)
    across, along = (float(part) for part in aspect.split(":"))
    narrow, wide = sorted((across / along, along / across))
    ratio = wide if width > height and len(boxes) > 1 else narrow
    left, right = min(b[0] for b in boxes), max(b[2] for b in boxes)
    top, bottom = min(b[1] for b in boxes), max(b[3] for b in boxes)
    share_w = min(1.0, ratio * height / width)
    share_h = min(1.0, share_w * width / ratio / height)
    if right - left > share_w or bottom - top > share_h:
        return (0.0, 0.0, 1.0, 1.0)
    eyes = top + _EYES_IN_BOX * (bottom - top)
    x = _between((left + right - share_w) / 2, max(0.0, right - share_w), min(left, 1 - share_w))
    y = _between(eyes - _EYES_IN_FRAME * share_h, max(0.0, bottom - share_h), min(top, 1 - share_h))
    return (x, y, x + share_w, y + share_h)


def _entry(place: Path, folder: Path, frame: Ranked, number: int) -> dict[str, str]:
    image = place / f"{number}.jpg"
    try:
        photo = open_photo(folder / frame.file, largest_side_px=2 * THUMB_PX)
        picture = Image.fromarray(photo.rgb)
    except PhotoError:
        picture = Image.new("RGB", (THUMB_PX, THUMB_PX), (200, 200, 200))  # gone since it was read
    width, height = picture.size
    boxes = [(b[0], b[1], b[2], b[3]) for b in frame.faces]
    left, top, right, bottom = crop_box(width, height, boxes, ASPECT)
    picture = picture.crop(
        (round(left * width), round(top * height), round(right * width), round(bottom * height))
    )
    picture.thumbnail((THUMB_PX, THUMB_PX))
    picture.save(image, "JPEG", quality=88)
    return {"image": image.name, "file": _printable(frame.file), "number": str(number)}


def _note(file: str, what: tuple[str, ...]) -> dict[str, str | list[str]]:
    return {"file": _printable(file), "what": [_printable(words) for words in what]}


def _printable(text: str) -> str:
    """A file's name need not be text; what is not is shown as escapes."""
    return text.encode("utf-8", "backslashreplace").decode()


def _compiled(source: Path) -> bytes:
    try:
        return bytes(typst.compile(str(source), root=str(source.parent)))
    except (typst.TypstError, RuntimeError, OSError) as error:
        raise SheetError(
            tr("The proof sheet could not be set ({error}); say so to us.", error=error)
        ) from error


def _between(value: float, low: float, high: float) -> float:
    return max(low, min(value, high))
