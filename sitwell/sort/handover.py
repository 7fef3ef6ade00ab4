"""Hand a sorted sitting over: ratings in sidecars, lists as JSON and CSV, what is left to retouch.

Photographs are only read. The one thing written beside them is our XMP sidecars, and only when
that is asked for.
"""

import csv
import errno
import json
import os
import re
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import TextIO

from sitwell.base.errors import SidecarError
from sitwell.base.files import make_atomically
from sitwell.base.formats import format_of
from sitwell.base.words import tr
from sitwell.shoot.read_frame import position_words
from sitwell.sort.rank import Ranked, RankedBurst
from sitwell.sort.regions import regions_of
from sitwell.sort.sorting import Sorting
from sitwell.sort.xmp import Written, read_sidecar, sweep, write_sidecar

# What a frame gets that is put forward: in the middle, so that a person has room both ways.
FORWARD_RATING = 3
_NUMBER = re.compile(r"[+-]?\d+([.,]\d+)?")
COLUMNS = ("burst", "place", "put_forward", "file", "reason", "chosen_by", "findings")


def write_json(path: Path, sorting: Sorting) -> Path:
    """All bursts and the unread frames as one JSON file, written burst by burst."""

    def make(temporary: Path) -> None:
        with temporary.open("w", encoding="utf-8", errors="backslashreplace") as stream:
            named = {"format": format_of("sorting"), "folder": str(sorting.folder)}
            stream.write(json.dumps(named).removesuffix("}") + ',\n"bursts": [')
            _write_items(stream, (burst.as_dict() for burst in sorting.bursts()))
            stream.write('],\n"unread": [')
            _write_items(stream, ({"file": f.name, "problem": f.problem} for f in sorting.unread()))
            stream.write("]}\n")

    return make_atomically(path, make)


def write_csv(path: Path, sorting: Sorting) -> Path:
    """A row for each frame, in the order of bursts and places."""

    def make(temporary: Path) -> None:
        with temporary.open("w", encoding="utf-8", errors="backslashreplace", newline="") as stream:
            rows = csv.writer(stream)
            rows.writerow(COLUMNS)
            for number, burst in enumerate(sorting.bursts(), start=1):
                rows.writerows(_row(number, frame) for frame in burst.frames)

    return make_atomically(path, make)


def rate(
    sorting: Sorting,
    keywords: tuple[str, ...] = (),
    form: str | None = None,
    *,
    regions: bool = False,
    progress: Callable[[int], None] | None = None,
) -> Iterator[Written]:
    """Write ratings into sidecars and say what became of each.

    A frame put forward by us gets FORWARD_RATING; one that was, and is no longer, gets 0; a
    choice that a person made with us is written as theirs, and a rating of theirs is left alone.
    ``regions`` adds where the faces are to what is put forward; ``progress`` is called with how
    many frames were gone through, and may raise to end it there. Raises SidecarError when nothing
    can be written there at all: a full disk, a folder that is read-only or gone.
    """
    sweep(sorting.folder)
    gone_through = 0
    for burst in sorting.bursts():
        for frame in burst.frames:
            photo = sorting.master_of(frame.file)
            if progress:
                progress(gone_through)
            gone_through += 1
            try:
                written = _rated(sorting, frame, photo, keywords, form, regions)
            except SidecarError as error:
                written = Written(path=photo, changed=False, why=str(error))
            except OSError as error:
                _refuse_to_go_on(sorting.folder, photo, error)
                why = tr("it could not be written ({error})", error=error.strerror)
                written = Written(path=photo, changed=False, why=why)
            if written is not None:
                yield written


def _rated(
    sorting: Sorting,
    frame: Ranked,
    photo: Path,
    keywords: tuple[str, ...],
    form: str | None,
    regions: bool,
) -> Written | None:
    choice = sorting.index.choice(frame.file)
    if choice is None and not frame.put_forward:
        return write_sidecar(photo, 0, (), form) if _was_ours(photo) else None
    wanted = regions and frame.put_forward
    faces = regions_of(sorting.folder / frame.file, frame.faces) if wanted else None
    if choice is not None:
        rating = _as_rating(choice)
        return write_sidecar(photo, rating, (), form, person=True, faces=faces)
    if frame.by_person:
        return None
    return write_sidecar(photo, FORWARD_RATING, keywords, form, faces=faces)


def _refuse_to_go_on(folder: Path, photo: Path, error: OSError) -> None:
    """Where no sidecar at all can be written, one sentence says so once."""
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        raise SidecarError(
            tr(
                "The disk of '{folder}' is full; make room and rate again, which goes on from "
                "here.",
                folder=folder,
            )
        ) from error
    if not photo.parent.is_dir():
        raise SidecarError(
            tr(
                "The folder '{folder}' has gone; connect it and rate again.",
                folder=photo.parent,
            )
        )
    if error.errno == errno.EROFS or not os.access(photo.parent, os.W_OK):
        raise SidecarError(
            tr(
                "The folder '{folder}' can't be written in; allow it or copy the frames to one "
                "that can, and rate again.",
                folder=photo.parent,
            )
        ) from error


def left_to_retouch(bursts: Iterable[RankedBurst]) -> Iterator[tuple[str, tuple[str, ...]]]:
    """For each frame put forward, what no choice of frame could mend, if anything."""
    for burst in bursts:
        best = burst.best
        if best is None:
            continue
        swaps = [
            tr("{who}: better in {file}.", who=position_words(position), file=file)
            for position, file in burst.best_for.items()
            if file != best.file
        ]
        if best.findings or swaps:
            yield best.file, (*best.findings, *swaps)


def _as_rating(choice: float) -> int:
    """What was chosen is never rated below what we put forward."""
    return -1 if choice < 0 else max(FORWARD_RATING, min(5, round(choice)))


def _was_ours(photo: Path) -> bool:
    sidecar = read_sidecar(photo)
    return sidecar is not None and not sidecar.by_person and bool(sidecar.rating)


def _row(number: int, frame: Ranked) -> list[str]:
    told = frame.as_dict()
    cells = (
        str(number),
        str(frame.place),
        "yes" if frame.put_forward else "no",
        frame.file,
        frame.reason,
        str(told["chosen_by"]),
        " ".join(frame.findings),
    )
    return [harmless(cell) for cell in cells]


def harmless(cell: str) -> str:
    """A cell that no spreadsheet takes for a formula; a number stays one."""
    if not cell.startswith(("=", "+", "-", "@", "\t", "\r")):
        return cell
    return cell if _NUMBER.fullmatch(cell) else f"'{cell}"


def _write_items(stream: TextIO, items: Iterable[dict[str, object]]) -> None:
    for number, item in enumerate(items):
        lead = ",\n" if number else "\n"
        stream.write(lead + json.dumps(item, allow_nan=False))
