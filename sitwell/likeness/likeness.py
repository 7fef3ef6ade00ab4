"""A sitter's likeness: made once from their frames, then a picture of it for each set-up.

It lives in memory only and is in no record; it goes with the reading that it was made from.
"""

import numpy as np
from numpy.typing import NDArray

from sitwell.base.errors import FaceError, HeadError, PhotoError
from sitwell.base.words import tr
from sitwell.head.reading import FrameReading, Reading
from sitwell.head.surface import Head
from sitwell.likeness.likened import Likened, angle_deg
from sitwell.scene.preview import Sculpture
from sitwell.scene.setup import Setup
from sitwell.scene.skin_merge import skin_from_frames

Floats = NDArray[np.float64]

BELIEVED_DEG = 12.0


class Likeness:
    """Pictures of one sitter; it holds what their frames showed, and can be sent between processes.

    ``files`` names the frames that it is made from.
    """

    def __init__(self, sculpture: Sculpture, views: Floats, files: tuple[str, ...]) -> None:
        """``views`` (F, 3) are the directions from which the frames saw the level head."""
        self._sculpture, self._views, self.files = sculpture, views, files

    def picture(
        self, setup: Setup, width_px: int, height_px: int, *, tell_made_up: bool = False
    ) -> Likened:
        """The sitter in a set-up, framed and cropped as ``Sculpture.render`` does.

        ``tell_made_up`` hatches what no frame has shown.
        """
        view = self._sculpture.look(setup)
        toward = (view.camera.lens_mm - view.eyes_mm) @ view.rotation
        toward /= np.linalg.norm(toward)
        off_deg = min(angle_deg(toward, seen) for seen in self._views)
        return Likened(
            pixels=self._sculpture.render(setup, width_px, height_px),
            made_up_share=self._sculpture.unknown_share(setup),
            from_frame_deg=off_deg,
            believable=off_deg <= BELIEVED_DEG,
        )


def likeness_of(reading: Reading, head: Head) -> Likeness | None:
    """The likeness of a reading's sitter, whose level head is ``head``; None where there is none.

    ``why_none`` then says why.
    """
    if why_none(reading):
        return None
    try:
        skin = skin_from_frames(reading)
    except (FaceError, HeadError, PhotoError):
        return None
    used = _usable(reading)
    return Likeness(
        Sculpture(head, skin), np.stack([_seen_from(each) for each in used]), skin.files
    )


def why_none(reading: Reading) -> str:
    """One sentence on why these frames carry no likeness; empty where they should."""
    if reading.fit is None:
        return tr("There is no picture of the sitter, since no frame shows a face; give one.")
    if not _usable(reading):
        return tr(
            "There is no picture of the sitter, since the frames can't be opened again; read the "
            "photographs anew."
        )
    return ""


def _usable(reading: Reading) -> list[FrameReading]:
    """The frames that gave the head, and whose photographs are still there."""
    parts = reading.fit.frames if reading.fit is not None else ()
    return [
        frame
        for frame in reading.frames
        if any(frame.fitted is part for part in parts)
        and frame.path is not None
        and frame.path.exists()
    ]


def _seen_from(frame: FrameReading) -> Floats:
    """Unit direction (3,) from the level head's eyes to the lens of a frame that was read."""
    if frame.pose is None:
        raise ValueError("only frames that were fitted come here")
    toward = -frame.pose.place_mm @ frame.pose.rotation
    return np.asarray(toward / np.linalg.norm(toward), dtype=np.float64)
