"""A photograph: upright pixels, never larger than asked, and what EXIF says about it.

Colour profiles are ignored: the pixels are taken as sRGB. Camera raw files give the preview that
the camera embedded in them.
"""

import ctypes
import dataclasses
import platform
import stat
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError

from sitwell.base.errors import PhotoError
from sitwell.base.words import mark, tr
from sitwell.brief.exif import ExifFacts, read_exif
from sitwell.brief.focal import Focal, find_focal
from sitwell.brief.pictures import (
    DECODING_ERRORS,
    LARGEST_MEGAPIXELS,
    exif_of,
    load,
    opened,
    out_factor,
)
from sitwell.brief.raw import RAW_SUFFIXES

Pixels = NDArray[np.uint8]
PHOTO_SUFFIXES = frozenset(
    {".jpg", ".jpeg", ".png", ".tif", ".tiff", ".webp", ".heic", ".heif", ".hif", *RAW_SUFFIXES}
)
_FILM_SUFFIXES = frozenset({".mp4", ".mov", ".m4v", ".avi", ".mkv", ".mts", ".webm"})
FAR_TOO_LARGE = mark(
    "'{file}' holds far more than the {most} megapixels that can be read; give a smaller copy."
)
SMALLEST_SIDE_PX = 32
_ORIENTATION = 0x0112
_SIDEWAYS = (5, 6, 7, 8)
_TURN = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}
# The upright picture seen as it is stored, to be filled without a copy of it.
_AS_STORED: dict[int, Callable[[Pixels], Pixels]] = {
    2: np.fliplr,
    3: lambda upright: np.rot90(upright, 2),
    4: np.flipud,
    5: lambda upright: upright.swapaxes(0, 1),
    6: np.rot90,
    7: lambda upright: np.rot90(upright, 2).swapaxes(0, 1),
    8: lambda upright: np.rot90(upright, -1),
}
_MIDDLE_GREY = 128
_EIGHT_OF_SIXTEEN = (np.arange(65536) / 257.0 + 0.5).astype(np.uint8)
# A larger picture is made into what we hand out in bands of so many pixels.
_AT_ONCE_PIXELS, _BAND_PIXELS = 16_000_000, 2_000_000
_BLOCKS_KEPT = 6  # of 16 MB, the decoder's own unit: 24 megapixels at half size take two
# Its M_MMAP_THRESHOLD and M_TRIM_THRESHOLD in bytes: what is smaller than the one is taken from a
# heap that is not given back below the other. Worker processes of a cluster are begun with less.
_KEPT_BY_GLIBC = {-3: 32 << 20, -1: 128 << 20}


@dataclass(frozen=True, slots=True, kw_only=True)
class Photo:
    """A photograph, upright: ``rgb`` (h, w, 3) bytes in sRGB, perhaps at reduced size.

    ``width_px`` and ``height_px`` are the upright picture's full size; ``px_per_rgb_px`` carries
    positions in ``rgb`` to full-size pixels.
    """

    path: Path
    rgb: Pixels
    width_px: int
    height_px: int
    facts: ExifFacts
    focal: Focal
    notes: tuple[str, ...] = ()

    @property
    def px_per_rgb_px(self) -> float:
        """Full-size pixels per pixel of ``rgb``."""
        return self.width_px / self.rgb.shape[1]

    def at_size(self, largest_side_px: int | None) -> "Photo":
        """The same photograph with a longest side of at least this; None for full size.

        Reads the file again where ``rgb`` is smaller than asked.
        """
        wanted = max(self.width_px, self.height_px)
        wanted = wanted if largest_side_px is None else min(wanted, largest_side_px)
        if max(self.rgb.shape[:2]) >= wanted:
            return self
        fresh = open_photo(self.path, largest_side_px=largest_side_px)
        return dataclasses.replace(self, rgb=fresh.rgb)


def open_photo(
    path: str | Path,
    *,
    largest_side_px: int | None = None,
    focal_35_mm: float | None = None,
    sensor_diagonal_mm: float | None = None,
) -> Photo:
    """Open a JPEG, PNG, TIFF, WebP, HEIF or camera raw file.

    With ``largest_side_px`` the picture is decoded at a whole fraction of its size whose longest
    side is still at least that (cheap for JPEG); of more than 64 megapixels it always is at one.
    Raises PhotoError, naming the file, when it is missing, empty, cut short, no photograph, or too
    large or too small to work on.
    """
    path = Path(path)
    _refuse_what_is_no_file(path)
    try:
        with opened(path) as image:
            _refuse_small(path, *image.size)
            if image.format == "PNG":
                load(image)  # its EXIF may stand behind the pixels
            turn, facts = _orientation(image), read_exif(image)
            width, height = image.size[::-1] if turn in _SIDEWAYS else image.size
            rgb = _decode(image, largest_side_px, turn)
    except UnidentifiedImageError as error:
        raise PhotoError(
            tr(
                "'{file}' is not a photograph that can be read; give a JPEG, PNG, TIFF, WebP, "
                "HEIF or camera raw file.",
                file=path.name,
            )
        ) from error
    except Image.DecompressionBombError as error:
        raise PhotoError(tr(FAR_TOO_LARGE, file=path.name, most=LARGEST_MEGAPIXELS)) from error
    except PermissionError as error:
        raise PhotoError(
            tr(
                "'{file}' may not be read; change its permissions and try again.",
                file=path.name,
            )
        ) from error
    except DECODING_ERRORS as error:
        raise PhotoError(
            tr(
                "'{file}' is damaged or cut short; copy it again from the card.",
                file=path.name,
            )
        ) from error
    focal = find_focal(
        facts, width, height, focal_35_mm=focal_35_mm, sensor_diagonal_mm=sensor_diagonal_mm
    )
    return Photo(
        path=path,
        rgb=rgb,
        width_px=width,
        height_px=height,
        facts=facts,
        focal=focal,
        notes=(*facts.notes, *focal.notes),
    )


@cache
def keep_memory_for_many() -> None:
    """Have this process keep its memory from one photograph to the next, some 200 MB at most.

    To ask the system for it each time, and to have it cleared, takes as long as half the decoding.
    """
    Image.core.set_blocks_max(_BLOCKS_KEPT)  # type: ignore[attr-defined]
    if platform.libc_ver()[0] == "glibc":
        library = ctypes.CDLL(None)
        for option, size in _KEPT_BY_GLIBC.items():
            library.mallopt(option, size)


def _refuse_what_is_no_file(path: Path) -> None:
    if path.suffix.lower() in _FILM_SUFFIXES:
        raise PhotoError(
            tr(
                "'{file}' is a film; take frames from it with 'sitwell stills' and give those.",
                file=path.name,
            )
        )
    try:
        if path.is_dir():
            raise PhotoError(tr("'{file}' is a folder; give the photographs in it.", file=path))
        status = path.stat()
    except FileNotFoundError as error:
        raise PhotoError(tr("There is no file '{file}'; check the name.", file=path)) from error
    except OSError as error:
        raise PhotoError(
            tr(
                "'{file}' may not be read; change its permissions and try again.",
                file=path,
            )
        ) from error
    if not stat.S_ISREG(status.st_mode):
        raise PhotoError(
            tr(
                "'{file}' is a pipe, a socket or a device; give the photograph as a file.",
                file=path.name,
            )
        )
    if status.st_size == 0:
        raise PhotoError(
            tr("'{file}' is empty (0 bytes); copy it again from the card.", file=path.name)
        )


def _orientation(image: Image.Image) -> int:
    try:
        return int(exif_of(image).get(_ORIENTATION, 1))
    except DECODING_ERRORS:
        return 1


def _refuse_small(path: Path, width: int, height: int) -> None:
    if min(width, height) < SMALLEST_SIDE_PX:
        raise PhotoError(
            tr(
                "'{file}' is {width} x {height} pixels, too small to show a face; give a larger "
                "copy.",
                file=path.name,
                width=width,
                height=height,
            )
        )


def _decode(image: Image.Image, largest_side_px: int | None, orientation: int) -> Pixels:
    factor = max(1, max(image.size) // largest_side_px) if largest_side_px else 1
    factor = max(min(factor, *image.size), out_factor(*image.size))  # a strip keeps a pixel
    wanted = image.size[0] // factor
    if factor > 1:
        image.draft("RGB", (wanted, image.size[1] // factor))
    load(image)
    left = image.size[0] // wanted
    white = 1.0 if image.mode == "F" and _highest(image) <= 1.0 else 65535.0
    if image.size[0] * image.size[1] > _AT_ONCE_PIXELS:
        return _in_bands(image, left, white, orientation)
    rgb, turn = _small_rgb(image, left, white), _TURN.get(orientation)
    return np.asarray(rgb if turn is None else rgb.transpose(turn))


def _in_bands(image: Image.Image, factor: int, white: float, orientation: int) -> Pixels:
    """A large picture, made band by band into one that is upright: no second one is in memory."""
    width, height = image.size
    across, down = -(-width // factor), -(-height // factor)
    shape = (across, down, 3) if orientation in _SIDEWAYS else (down, across, 3)
    upright: Pixels = np.empty(shape, np.uint8)
    stored = _AS_STORED[orientation](upright) if orientation in _AS_STORED else upright
    rows = max(1, _BAND_PIXELS // (width * factor)) * factor
    for top in range(0, height, rows):
        band = image.crop((0, top, width, min(top + rows, height)))
        stored[top // factor : (top + rows) // factor] = np.asarray(_small_rgb(band, factor, white))
    return upright


def _highest(image: Image.Image) -> float:
    _, highest = image.getextrema()
    return float(highest) if isinstance(highest, int | float) else 0.0


def _small_rgb(image: Image.Image, factor: int, white: float) -> Image.Image:
    plain = _of_8_bits(image, white)
    small = plain.reduce(factor) if factor > 1 else plain
    return small if small.mode == "RGB" else small.convert("RGB")


def _of_8_bits(image: Image.Image, white: float) -> Image.Image:
    """Opaque, in grey or colours; ``white`` is the brightest value of a deep grey."""
    if image.mode in ("F", "I"):
        values = np.nan_to_num(np.asarray(image, dtype=np.float32)) * (255.0 / white) + 0.5
        return Image.fromarray(np.clip(values, 0, 255).astype(np.uint8))
    if image.mode.startswith("I;16"):
        return Image.fromarray(_EIGHT_OF_SIXTEEN[np.asarray(image)])
    if image.mode in ("RGBA", "LA", "PA", "RGBa", "La") or "transparency" in image.info:
        rgba = image.convert("RGBA")
        ground = Image.new("RGBA", rgba.size, (_MIDDLE_GREY, _MIDDLE_GREY, _MIDDLE_GREY, 255))
        return Image.alpha_composite(ground, rgba).convert("RGB")
    # Converting what is right already would copy it, a fifth of the time to open a photograph.
    return image if image.mode in ("L", "RGB") else image.convert("RGB")
