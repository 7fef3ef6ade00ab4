"""The pages' door to sorting: a folder read in the workshop, and what is done with it after."""

import hashlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

from PIL import Image

from sitwell.base.errors import SearchStoppedError, SitwellError
from sitwell.base.files import write_atomically
from sitwell.base.words import spoken, tr
from sitwell.brief.photos import open_photo
from sitwell.sort.handover import rate
from sitwell.sort.proof import write_proof
from sitwell.sort.rank import RankedBurst
from sitwell.sort.sorting import Sorting, sorting_for
from sitwell.ui.web.jobs import Stop, Tell
from sitwell.ui.web.wording import mark

READING = mark("looking at the frames")
RATING, PROOFING = mark("writing the ratings"), mark("drawing the frames")
THUMB_PX = 320


@dataclass(frozen=True, slots=True, kw_only=True)
class SortWork:
    """A folder to sort, our own folder for what is found, and the plan it is held against."""

    folder: Path
    state: Path
    plan: Path | None
    setup: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sorted:
    """The bursts in order of time, and a sentence for each frame that can't be read."""

    bursts: tuple[RankedBurst, ...]
    unread: tuple[str, ...]


def sort_frames(work: SortWork, tell: Tell, stop: Stop) -> Sorted:
    """Read what was not read before, rank it, and make a small view of each frame put forward."""

    with _opened(work) as sorting:
        sorting.read(progress=_heeding(tell, stop, READING))
        found = _ranked(sorting)
    for burst in found.bursts:
        if burst.best is not None:
            _make_thumb(work, burst.best.file)
    return found


def choose_frame(work: SortWork, file: str) -> Sorted:
    """Put a frame forward as the person's own choice, and rank again."""
    with _again(work) as sorting:
        for burst in list(sorting.bursts()):
            names = [frame.file for frame in burst.frames]
            if file in names:
                for name in names:
                    sorting.index.choose(name, 1.0 if name == file else None)
                _make_thumb(work, file)
        return _ranked(sorting)


def write_ratings(work: SortWork, language: str, tell: Tell, stop: Stop) -> int:
    """Write ratings into sidecars beside the frames; how many were written.

    What was written before a stop stays: rating again goes on from there.
    """
    heed = _heeding(tell, stop, RATING)
    with spoken(language), _opened(work) as sorting:
        count = sorting.read(workers=1)
        told = rate(sorting, progress=lambda done: heed(done, count))
        return sum(written.changed for written in told)


def draw_proof(
    work: SortWork, path: Path, title: str, language: str, tell: Tell, stop: Stop
) -> Path:
    """Draw the proof sheet of the frames put forward."""
    heed = _heeding(tell, stop, PROOFING)
    with spoken(language), _again(work) as sorting:
        bursts = sorting.bursts()
        return write_proof(path, work.folder, bursts, title, with_notes=True, progress=heed)


def thumb_name(file: str) -> str:
    """The name of a frame's small view in our own folder."""
    return f"thumb-{hashlib.sha256(file.encode()).hexdigest()[:16]}.jpg"


def _heeding(tell: Tell, stop: Stop, doing: str) -> Callable[[int, int], None]:
    """Tells how many of how many frames are done, and ends the work when asked to stop."""

    def heed(done: int, count: int) -> None:
        if stop():
            raise SearchStoppedError(tr("Sorting was stopped; start it again to go on."))
        tell(done / max(count, 1), doing)

    return heed


@contextmanager
def _opened(work: SortWork) -> Iterator[Sorting]:
    sorting = sorting_for(work.folder, work.state, work.plan, work.setup or None)
    try:
        yield sorting
    finally:
        sorting.index.close()


@contextmanager
def _again(work: SortWork) -> Iterator[Sorting]:
    """A folder that was sorted before: what it holds is listed anew, and only what is new read."""
    with _opened(work) as sorting:
        sorting.read(workers=1)
        yield sorting


def _ranked(sorting: Sorting) -> Sorted:
    unread = tuple(
        tr("{who}: {what}", who=frame.name, what=frame.problem) for frame in sorting.unread()
    )
    return Sorted(bursts=tuple(sorting.bursts()), unread=unread)


def _make_thumb(work: SortWork, file: str) -> None:
    path = work.state / "drawn" / thumb_name(file)
    if path.exists():
        return
    try:
        photo = open_photo(work.folder / file, largest_side_px=2 * THUMB_PX)
    except SitwellError:
        return  # the frame has gone since it was read; the row says its name all the same
    image = Image.fromarray(photo.rgb)
    image.thumbnail((THUMB_PX, THUMB_PX))
    made = BytesIO()
    image.save(made, "JPEG", quality=85)
    write_atomically(path, made.getvalue())
