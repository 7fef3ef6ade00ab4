"""What every use of the landmark library needs: its kind of picture, silence, and a quiet end."""

import contextlib
import os
import threading
from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sitwell.face.unplotted import unplotted

_ONE_AT_A_TIME = threading.RLock()


def as_image(rgb: NDArray[np.uint8]) -> Any:
    """A picture (h, w, 3) as the library takes it."""
    with unplotted():
        import mediapipe

    return mediapipe.Image(image_format=mediapipe.ImageFormat.SRGB, data=np.ascontiguousarray(rgb))


def kept_to_the_end(task: Any) -> Any:
    """The library's task, left to the end of the process: closing it by then fails and says so."""

    class Unclosed(type(task)):  # type: ignore[misc]
        def __del__(self) -> None:
            pass

    task.__class__ = Unclosed
    return task


@contextlib.contextmanager
def quiet_stderr() -> Iterator[None]:
    """Keep the library's chatter, which it writes below Python, off the terminal.

    It talks at the start, and in any look whose memory happens to lie unevenly. One at a time: the
    library's tasks serve one thread, and two would not give the terminal back in order.
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
