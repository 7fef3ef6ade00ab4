"""Camera raw files, as the raw library reads them: the preview inside, and whether all is there."""

from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError

from sitwell.base.errors import PhotoError
from sitwell.base.words import tr

RAW_SUFFIXES = frozenset(
    {".3fr", ".arw", ".cr2", ".cr3", ".dng", ".erf", ".fff", ".iiq", ".mef", ".mos", ".nef"}
    | {".nrw", ".orf", ".pef", ".raf", ".rw2", ".rwl", ".srw", ".x3f"}
)
# Unpacked, a pixel that has all its colours takes eight bytes; which do can't be told before.
MOST_UNPACKED_PIXELS = 110_000_000
_EXIF_IFD = 0x8769
_ORIENTATION = 0x0112
# The raw library's codes for how far the sensor was turned, as EXIF orientations.
_ORIENTATION_OF_FLIP = {0: 1, 3: 3, 5: 8, 6: 6}
_F_NUMBER, _FOCAL = 33437, 37386


def raw_preview(path: Path) -> tuple[bytes | NDArray[np.uint8], int, object]:
    """The largest preview inside a raw file, how the sensor was turned, and how it was exposed.

    The preview is a JPEG's bytes, or pixels (h, w, 3). Raises PhotoError when the file holds none,
    and Pillow's own errors when it is no raw file.
    """
    # Imported here because only raw files need it.
    import rawpy

    try:
        with rawpy.imread(str(path)) as raw:
            thumb = raw.extract_thumb()
            flip, other = raw.sizes.flip, raw.other
    except (rawpy.LibRawNoThumbnailError, rawpy.LibRawUnsupportedThumbnailError) as error:
        raise PhotoError(
            tr(
                "'{file}' holds no preview; export a JPEG from it and give that.",
                file=path.name,
            )
        ) from error
    except rawpy.LibRawFileUnsupportedError as error:
        raise UnidentifiedImageError(str(error)) from error
    except rawpy.LibRawError as error:
        raise OSError(str(error)) from error
    is_jpeg = thumb.format == rawpy.ThumbFormat.JPEG
    return (bytes(thumb.data) if is_jpeg else np.asarray(thumb.data)), flip, other


def fill_in(exif: Image.Exif, flip: int, other: object) -> None:
    """Fill in, in the preview's own EXIF, what only the raw file knows."""
    if _ORIENTATION not in exif:
        exif[_ORIENTATION] = _ORIENTATION_OF_FLIP.get(flip, 1)
    details = exif.get_ifd(_EXIF_IFD)
    for tag, name in ((_FOCAL, "focal_length"), (_F_NUMBER, "aperture")):
        value = getattr(other, name, 0.0)
        if tag not in details and value > 0:
            details[tag] = value


def sensor_is_whole(path: Path) -> bool:
    """Whether the sensor's values are all there; of a sensor too large to unpack it is believed."""
    # Imported here because only raw files need it.
    import rawpy

    try:
        with rawpy.imread(str(path)) as raw:
            if raw.sizes.raw_width * raw.sizes.raw_height <= MOST_UNPACKED_PIXELS:
                raw.unpack()
    except rawpy.LibRawError:
        return False
    return True
