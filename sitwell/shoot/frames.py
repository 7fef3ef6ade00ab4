"""Frames as files: which files are one frame, when it was taken, and whether it is all there."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from sitwell.base.errors import PhotoError
from sitwell.base.files import open_regular
from sitwell.base.words import tr
from sitwell.brief.exif import read_exif
from sitwell.brief.photos import PHOTO_SUFFIXES, open_photo
from sitwell.brief.pictures import DECODING_ERRORS, opened
from sitwell.brief.raw import RAW_SUFFIXES, sensor_is_whole

# Cameras write these beside a JPEG of the same name and the same moment.
MASTER_SUFFIXES = RAW_SUFFIXES | {".heic", ".heif", ".hif"}
SAME_MOMENT_S = 2.0
# Multi-picture files and moving pictures put more behind the JPEG's own end (from memory).
_MORE_FOLLOWS = (b"MPF\0", b"MotionPhoto", b"MicroVideo", b"Container:Directory")
_HEAD_BYTES = 1 << 17


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """One frame: the file to look at, its companions (a raw file's JPEG), and when it was taken."""

    path: Path
    companions: tuple[Path, ...] = ()
    taken: datetime | None = None

    @property
    def master(self) -> Path:
        """The file that a sidecar belongs to: the raw file where there is one."""
        files = (self.path, *self.companions)
        return next((f for f in files if is_master(f)), self.path)


def is_photo(path: Path) -> bool:
    """Whether the name is a photograph's; hidden files and half-written copies are not."""
    return path.suffix.lower() in PHOTO_SUFFIXES and not path.name.startswith(".")


def is_master(path: Path) -> bool:
    """Whether the file is a camera's raw or HEIF file, which may have a JPEG beside it."""
    return path.suffix.lower() in MASTER_SUFFIXES


def stem_of(path: Path) -> tuple[Path, str]:
    """What a raw file and its JPEG share: the folder, and the name without its ending."""
    return path.parent, path.stem.casefold()


def natural_key(path: Path) -> tuple[str | int, ...]:
    """Sorts names with numbers as a person would: shot9 before shot10."""
    parts = re.split(r"(\d+)", str(path).casefold())
    return tuple(int(part) if part.isdecimal() else part for part in parts)


def capture_time(path: Path) -> datetime | None:
    """When the picture was taken, as its EXIF says to the fraction of a second; no decoding."""
    try:
        with opened(path) as image:
            return read_exif(image).taken
    except (PhotoError, *DECODING_ERRORS):
        return None


def clock_s(taken: datetime | None) -> float | None:
    """Seconds on a common clock; a time without its offset from UTC is taken as UTC."""
    if taken is None:
        return None
    return (taken if taken.tzinfo else taken.replace(tzinfo=UTC)).timestamp()


def same_moment(first: datetime | None, second: datetime | None) -> bool:
    """Whether two files can be of one exposure; a missing time rules nothing out."""
    a, b = (t and t.replace(tzinfo=None) for t in (first, second))
    return a is None or b is None or abs((a - b).total_seconds()) <= SAME_MOMENT_S


def group_frames(paths: Iterable[Path], *, with_times: bool = True) -> list[Frame]:
    """Files grouped into frames: a raw or HEIF file and its JPEG are one; by natural name.

    Without ``with_times`` only files that may be one frame are opened to see when they were taken.

    The JPEG is the file to look at, because it opens faster. A JPEG of another moment under the
    same name (a counter that began again) is a frame of its own.
    """
    by_stem: dict[tuple[Path, str], list[Path]] = {}
    for path in paths:
        by_stem.setdefault(stem_of(path), []).append(path)
    frames = [frame for files in by_stem.values() for frame in _frames_of(files, with_times)]
    return sorted(frames, key=lambda frame: natural_key(frame.path))


def _frames_of(files: list[Path], with_times: bool) -> list[Frame]:
    files = sorted(files, key=lambda path: (is_master(path), path.name))
    alone = len(files) == 1 or not is_master(files[-1])
    if alone and not with_times:
        return [Frame(path=path) for path in files]
    times = {path: capture_time(path) for path in files}
    if alone:
        return [Frame(path=path, taken=times[path]) for path in files]
    frames: list[Frame] = []
    for path in files:
        fits = (i for i, f in enumerate(frames) if same_moment(f.taken, times[path]))
        place = next(fits, None)
        if place is None:
            frames.append(Frame(path=path, taken=times[path]))
        else:
            old = frames[place]
            frames[place] = Frame(
                path=old.path,
                companions=(*old.companions, path),
                taken=old.taken or times[path],
            )
    return frames


def why_unreadable(path: Path) -> str | None:
    """None when the picture decodes to its end; otherwise the sentence that says why not.

    A JPEG without its end marker counts as cut short: decoders may fill the missing part grey.
    Of a raw file the sensor's values have to be there, not the preview alone, which comes first.
    """
    suffix = path.suffix.lower()
    try:
        open_photo(path, largest_side_px=512)
        jpeg_is_cut = suffix in (".jpg", ".jpeg") and not _jpeg_ends(path)
        raw_is_cut = suffix in RAW_SUFFIXES and not sensor_is_whole(path)
    except PhotoError as error:
        return str(error)
    except OSError:
        return tr("'{file}' has gone; it is looked for again.", file=path.name)
    if jpeg_is_cut or raw_is_cut:
        return tr("'{file}' is damaged or cut short; copy it again from the card.", file=path.name)
    return None


def ends_whole(path: Path) -> bool:
    """Whether this is a JPEG whose very last bytes are its end marker, with nothing to follow.

    A file that is still being written does not end so; one with further pictures behind the first
    (its header says so) may, and is not vouched for.
    """
    if path.suffix.lower() not in (".jpg", ".jpeg"):
        return False
    try:
        with open_regular(path) as stream:
            head = stream.read(_HEAD_BYTES)
            size = stream.seek(0, 2)
            stream.seek(max(0, size - 2))
            tail = stream.read()
    except OSError:
        return False
    more = any(mark in head for mark in _MORE_FOLLOWS)
    return head[:3] == b"\xff\xd8\xff" and tail == b"\xff\xd9" and not more


def _jpeg_ends(path: Path, tail_bytes: int = 1 << 20) -> bool:
    # Cameras may put further pictures and padding behind the first one's end.
    with open_regular(path) as stream:
        size = stream.seek(0, 2)
        stream.seek(max(0, size - tail_bytes))
        return b"\xff\xd9" in stream.read()[2:]
