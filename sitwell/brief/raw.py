"""The preview that a camera embeds in its raw files: upright, with the raw file's EXIF facts."""

import io
from pathlib import Path

import numpy as np
from PIL import Image, UnidentifiedImageError

from sitwell.base.errors import PhotoError
from sitwell.base.words import tr

RAW_SUFFIXES = frozenset(
    {".3fr", ".arw", ".cr2", ".cr3", ".dng", ".erf", ".fff", ".iiq", ".mef", ".mos", ".nef"}
    | {".nrw", ".orf", ".pef", ".raf", ".rw2", ".rwl", ".srw", ".x3f"}
)
_EXIF_IFD = 0x8769
_ORIENTATION = 0x0112
# The raw library's codes for how far the sensor was turned, as EXIF orientations.
_ORIENTATION_OF_FLIP = {0: 1, 3: 3, 5: 8, 6: 6}
_F_NUMBER, _FOCAL = 33437, 37386


def open_raw_preview(path: Path) -> Image.Image:
    """The largest preview inside a raw file, carrying its own or the raw file's EXIF.

    Raises PhotoError when it holds no preview, and Pillow's own errors when it is no raw file.
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
    image = (
        Image.open(io.BytesIO(thumb.data))
        if thumb.format == rawpy.ThumbFormat.JPEG
        else Image.fromarray(np.asarray(thumb.data))
    )
    return _with_facts(image, flip, other)


def _with_facts(image: Image.Image, flip: int, other: object) -> Image.Image:
    """Fill in, in the preview's own EXIF, what only the raw file knows."""
    exif = image.getexif()
    if _ORIENTATION not in exif:
        exif[_ORIENTATION] = _ORIENTATION_OF_FLIP.get(flip, 1)
    details = exif.get_ifd(_EXIF_IFD)
    for tag, name in ((_FOCAL, "focal_length"), (_F_NUMBER, "aperture")):
        value = getattr(other, name, 0.0)
        if tag not in details and value > 0:
            details[tag] = value
    return image
