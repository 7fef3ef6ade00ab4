"""Single frames of a film, upright, by OpenCV's own reader."""

import contextlib
import os
import threading
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sitwell.base.errors import PhotoError
from sitwell.base.words import tr

Pixels = NDArray[np.uint8]

_ONE_AT_A_TIME = threading.RLock()


@dataclass(frozen=True, slots=True, kw_only=True)
class Clip:
    """A film: how many frames it says it has, and how many of them a second."""

    path: Path
    frames: int
    frames_per_second: float


def open_clip(path: Path) -> Clip:
    """What a film says of itself; PhotoError, naming the file, when it is missing or none."""
    if not path.is_file():
        raise PhotoError(tr("There is no file '{file}'; check the name.", file=path))
    with _quiet_stderr():
        film = _opened(path)
        try:
            count, rate = _counts(film)
        finally:
            film.release()
    if count < 1:
        raise _no_film(path)
    return Clip(path=path, frames=count, frames_per_second=rate)


def frames_of(clip: Clip, numbers: Sequence[int]) -> Iterator[tuple[int, Pixels]]:
    """The frames of these numbers (from 0, rising) that can be read, each (h, w, 3) in sRGB."""
    import cv2

    with _quiet_stderr():
        film = _opened(clip.path)
    try:
        at = 0
        for number in numbers:
            with _quiet_stderr():
                # frames build on one another: they are passed over one by one, not jumped over
                while at < number and film.grab():
                    at += 1
                fine, bgr = film.read()
                at += 1
            if not fine:
                return
            yield number, np.asarray(cv2.cvtColor(bgr, cv2.COLOR_BGR2RGB), dtype=np.uint8)
    finally:
        film.release()


def _opened(path: Path) -> Any:
    import cv2

    film = cv2.VideoCapture(str(path), cv2.CAP_FFMPEG)
    if not film.isOpened():
        raise _no_film(path)
    return film


def _counts(film: Any) -> tuple[int, float]:
    import cv2

    count, rate = film.get(cv2.CAP_PROP_FRAME_COUNT), film.get(cv2.CAP_PROP_FPS)
    return (int(count) if np.isfinite(count) else 0), (float(rate) if rate > 0 else 25.0)


def _no_film(path: Path) -> PhotoError:
    return PhotoError(
        tr("'{file}' is not a film that can be read; give an MP4 or MOV file.", file=path.name)
    )


@contextlib.contextmanager
def _quiet_stderr() -> Iterator[None]:
    """Keep the reader's chatter, which it writes below Python, off the terminal.

    One at a time, or two threads would not give the terminal back in order.
    """
    with _ONE_AT_A_TIME:
        kept = os.dup(2)
        nowhere = os.open(os.devnull, os.O_WRONLY)
        try:
            os.dup2(nowhere, 2)
            yield
        finally:
            os.dup2(kept, 2)
            os.close(kept)
            os.close(nowhere)
