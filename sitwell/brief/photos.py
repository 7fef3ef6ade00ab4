"""Opening a photograph: upright pixels, never larger than asked, and what EXIF says about it.

Colour profiles are ignored: the pixels are taken as sRGB. Camera raw files give the preview that
the camera embedded in them.
"""

import contextlib
import ctypes
import dataclasses
import io
import platform
import struct
import warnings
from collections.abc import Iterator
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
from sitwell.brief.raw import RAW_SUFFIXES, open_raw_preview

PHOTO_SUFFIXES = frozenset(
    {".jpg", ".jpeg", ".png", ".tif", ".tiff", ".heic", ".heif", ".hif", *RAW_SUFFIXES}
)
_FILM_SUFFIXES = frozenset({".mp4", ".mov", ".m4v", ".avi", ".mkv", ".mts", ".webm"})
LARGEST_MEGAPIXELS = 170
FAR_TOO_LARGE = mark(
    "'{file}' holds far more than the {most} megapixels that can be read; give a smaller copy."
)
SMALLEST_SIDE_PX = 32
_HEIF_BRANDS = (b"heic", b"heix", b"hevc", b"mif1", b"msf1", b"heim", b"heis")
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
_MIDDLE_GREY = 128
_BLOCKS_KEPT = 6  # of 16 MB, the decoder's own unit: 24 megapixels at half size take two
# Its M_MMAP_THRESHOLD and M_TRIM_THRESHOLD in bytes: what is smaller than the one is taken from a
# heap that is not given back below the other. Worker processes of a cluster are begun with less.
_KEPT_BY_GLIBC = {-3: 32 << 20, -1: 128 << 20}
# All that Pillow and its plug-ins were seen to raise on damaged files.
DECODING_ERRORS = (
    *(OSError, SyntaxError, ValueError, struct.error, EOFError, IndexError, TypeError),
    *(RuntimeError, MemoryError, Image.DecompressionBombError),
)

Pixels = NDArray[np.uint8]


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
    """Open a JPEG, PNG, TIFF, HEIF or camera raw file.

    With ``largest_side_px`` the picture is decoded at a whole fraction of its size whose longest
    side is still at least that (cheap for JPEG). Raises PhotoError, naming the file, when it is
    missing, empty, cut short, no photograph, or too large or too small to work on.
    """
    path = Path(path)
    _refuse_what_is_no_file(path)
    try:
        with opened(path) as image:
            width, height = _upright_size(image)
            _refuse_size(path, width, height)
            facts = read_exif(image)
            rgb = _decode(image, largest_side_px)
    except UnidentifiedImageError as error:
        raise PhotoError(
            tr(
                "'{file}' is not a photograph that can be read; give a JPEG, PNG, TIFF, HEIF or "
                "camera raw file.",
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
        size = path.stat().st_size
    except FileNotFoundError as error:
        raise PhotoError(tr("There is no file '{file}'; check the name.", file=path)) from error
    except OSError as error:
        raise PhotoError(
            tr(
                "'{file}' may not be read; change its permissions and try again.",
                file=path,
            )
        ) from error
    if size == 0:
        raise PhotoError(
            tr("'{file}' is empty (0 bytes); copy it again from the card.", file=path.name)
        )


@contextlib.contextmanager
def opened(path: Path) -> Iterator[Image.Image]:
    """A photograph's file, or a raw file's preview, not decoded yet; raises DECODING_ERRORS."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # Pillow's warnings about size and odd tags
        with _open_image(path) as image:
            yield image


def _open_image(path: Path) -> Image.Image:
    if path.suffix.lower() in RAW_SUFFIXES:
        return open_raw_preview(path)
    with path.open("rb") as stream:
        head = stream.read(12)
    if head[4:8] == b"ftyp" and head[8:12] in _HEIF_BRANDS:
        return _open_heif(path)
    return Image.open(path)


def _open_heif(path: Path) -> Image.Image:
    # Imported here because few photographs need it and it loads a large library.
    import pillow_heif

    pillow_heif.register_heif_opener()
    return Image.open(io.BytesIO(path.read_bytes()))


def _upright_size(image: Image.Image) -> tuple[int, int]:
    width, height = image.size
    return (height, width) if _orientation(image) in _SIDEWAYS else (width, height)


def _orientation(image: Image.Image) -> int:
    try:
        return int(image.getexif().get(_ORIENTATION, 1))
    except DECODING_ERRORS:
        return 1


def _refuse_size(path: Path, width: int, height: int) -> None:
    if width * height > LARGEST_MEGAPIXELS * 1_000_000:
        raise PhotoError(
            tr(
                "'{file}' is {width} x {height} pixels, more than the {most} megapixels that can "
                "be read; give a smaller copy.",
                file=path.name,
                width=width,
                height=height,
                most=LARGEST_MEGAPIXELS,
            )
        )
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


def _decode(image: Image.Image, largest_side_px: int | None) -> Pixels:
    turn = _TURN.get(_orientation(image))
    factor = max(1, max(image.size) // largest_side_px) if largest_side_px else 1
    factor = min(factor, *image.size)  # a strip keeps a pixel of width
    wanted = image.size[0] // factor
    if factor > 1:
        image.draft("RGB", (wanted, image.size[1] // factor))
    rgb = _to_rgb(image)
    left = rgb.size[0] // wanted
    rgb = rgb.reduce(left) if left > 1 else rgb
    return np.asarray(rgb.transpose(turn) if turn is not None else rgb)


def _to_rgb(image: Image.Image) -> Image.Image:
    if image.mode in ("F", "I") or image.mode.startswith("I;16"):
        return _from_deep_grey(image)
    if image.mode in ("RGBA", "LA", "PA", "RGBa", "La") or "transparency" in image.info:
        rgba = image.convert("RGBA")
        ground = Image.new("RGBA", rgba.size, (_MIDDLE_GREY, _MIDDLE_GREY, _MIDDLE_GREY, 255))
        return Image.alpha_composite(ground, rgba).convert("RGB")
    # Converting what is right already would copy it, a fifth of the time to open a photograph.
    return image if image.mode == "RGB" else image.convert("RGB")


def _from_deep_grey(image: Image.Image) -> Image.Image:
    """Grey of 16 bits, or floating point from 0 to 1, brought to 8 bits."""
    values = np.asarray(image, dtype=np.float64)
    scale = 255.0 if image.mode == "F" and values.max() <= 1.0 else 255.0 / 65535.0
    bytes_ = np.clip(np.nan_to_num(values) * scale + 0.5, 0, 255).astype(np.uint8)
    return Image.fromarray(bytes_).convert("RGB")
