"""What angles count from: the sitter's own level frame, or the mean head's zero."""

import dataclasses
from typing import TYPE_CHECKING

import numpy as np

from sitwell.base.errors import FaceError
from sitwell.base.rotations import camera_axes
from sitwell.base.words import mark, tr

if TYPE_CHECKING:
    from sitwell.head.reading import FrameReading, Reading


def levelled(frames: list["FrameReading"], level: int | None) -> tuple[list["FrameReading"], str]:
    """Count the angles from the level frame's pose, and say what they count from."""
    if level is None:
        return frames, tr(ZERO_OF_THE_MEAN_HEAD)
    if not 0 <= level < len(frames) or frames[level].fitted is None:
        which = frames[level].file if 0 <= level < len(frames) else f"frame {level + 1}"
        raise FaceError(
            tr("No face was read in the level frame '{which}'; name another.", which=which)
        )
    fitted = frames[level].fitted
    if fitted is None:
        return frames, tr(ZERO_OF_THE_MEAN_HEAD)
    axes = camera_axes(np.zeros(3), fitted.pose.place_mm)
    neutral = axes @ fitted.pose.rotation
    file = frames[level].file
    note = tr("Angles count from the sitter's own level frame '{file}'.", file=file)
    return [dataclasses.replace(frame, neutral=neutral) for frame in frames], note


def with_level(reading: "Reading", level: int) -> "Reading":
    """The same reading with its angles counted from one of its frames; FaceError as there."""
    plain = [dataclasses.replace(frame, neutral=np.eye(3)) for frame in reading.frames]
    frames, note = levelled(plain, level)
    notes = tuple(note if told == tr(ZERO_OF_THE_MEAN_HEAD) else told for told in reading.notes)
    return dataclasses.replace(reading, frames=tuple(frames), notes=notes)


ZERO_OF_THE_MEAN_HEAD = mark(
    "Angles count from the mean head's zero, which may be some degrees off this sitter's own in "
    "chin; name a frame in which they look straight ahead, level, to count from that."
)
