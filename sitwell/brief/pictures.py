"""The one opener: every picture is opened here, by one of a few named decoders.

A file's first bytes choose the decoder and nothing else is tried: Pillow knows some forty more, and
its one for PostScript would start another program. Before a pixel is decoded the header tells the
picture's size and the memory that it will take; what is too large is refused in a sentence.
A pipe, a socket and a device are no pictures, and nobody waits for them.
"""

import contextlib
import io
import struct
import warnings
from collections.abc import Iterator
from contextlib import AbstractContextManager
from pathlib import Path

from PIL import (
    Image,
    ImageFile,
    JpegImagePlugin,
    PngImagePlugin,
    TiffImagePlugin,
    UnidentifiedImageError,
    WebPImagePlugin,
)

from sitwell.base.errors import PhotoError
from sitwell.base.files import open_regular
from sitwell.base.words import tr
from sitwell.brief.raw import RAW_SUFFIXES, fill_in, raw_preview

LARGEST_MEGAPIXELS = 170
# What the opening of one picture may take: a process that reads a face stays below 1.2 GB.
MOST_BYTES = 820_000_000
# A picture of more pixels is handed out at a half or a third of its size.
LARGEST_OUT_PIXELS = 64_000_000
_MOST_BESIDE = 32 << 20  # bytes of profiles, notes and tables beside the picture
_MOST_WHOLE = 128 << 20  # bytes of a file that its library takes at once
_TAKEN_AT_ONCE = ("WEBP", "HEIF")
_MOST_PIECES, _MOST_ENTRIES = 100_000, 0xFFFF
_MOST_NUMBERS = 3 * _MOST_PIECES  # in a TIFF's tables: where each piece is, how long, and the rest
# The library's own planes and canvases, beside Pillow's picture: measured as the peak of a child
# process in tests/brief/test_pictures.py.
_OWN_BYTES_PER_PIXEL = {"WEBP": 12, "HEIF": 4}
_BYTES_PER_PIXEL = {"1": 1, "L": 1, "P": 1, "I;16": 2, "I;16B": 2, "I;16L": 2, "I;16N": 2}
_HEIF_BRANDS = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"mif1", b"msf1")
_TIFF_STARTS = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")
_ROWS_PER_STRIP, _TILE_WIDTH, _TILE_HEIGHT, _BITS = 278, 322, 323, 258
_PIECES, _PIECE_BYTES = (273, 324), (279, 325)
_EXIF_TABLE = 0x8769
_NUMBERS = (3, 4, 5, 6, 8, 9, 10, 11, 12, 13, 16)  # TIFF's kinds that are neither bytes nor text
_POINTERS = {3: "H", 4: "L", 13: "L", 16: "Q"}
# All that Pillow and its plug-ins were seen to raise on damaged files.
DECODING_ERRORS = (
    *(OSError, SyntaxError, ValueError, struct.error, EOFError, IndexError, TypeError),
    *(RuntimeError, MemoryError, Image.DecompressionBombError),
)


class _Jpeg(JpegImagePlugin.JpegImageFile):
    """A JPEG whose EXIF block is not read before it was judged, only to learn of dots per inch."""

    def _read_dpi_from_exif(self) -> None:
        pass


DECODERS: dict[str, type[ImageFile.ImageFile]] = {
    "JPEG": _Jpeg,  # of a file with several pictures, the first
    "PNG": PngImagePlugin.PngImageFile,
    "TIFF": TiffImagePlugin.TiffImageFile,
    "WEBP": WebPImagePlugin.WebPImageFile,
}  # and HEIF, whose library is loaded when it is needed


@contextlib.contextmanager
def opened(path: Path) -> Iterator[Image.Image]:
    """A picture's file, or a raw file's preview, judged by its header and not decoded yet.

    Raises PhotoError where it is too large, and DECODING_ERRORS where it is damaged or no picture.
    """
    with _quietly(), open_regular(path) as file:
        kind = _kind_of(file.read(16))
        if path.suffix.lower() in RAW_SUFFIXES and kind in (None, "TIFF"):
            preview, flip, other = raw_preview(path)
            if not isinstance(preview, bytes):
                image = Image.fromarray(preview)
                fill_in(exif_of(image), flip, other)
                yield image
                return
            with _opened(io.BytesIO(preview), "JPEG", path.name) as image:
                fill_in(exif_of(image), flip, other)
                yield image
            return
        file.seek(0)
        with _opened(file, kind, path.name) as image:
            yield image


@contextlib.contextmanager
def opened_bytes(data: bytes, kind: str, name: str) -> Iterator[Image.Image]:
    """A picture of one kind, such as "JPEG", that was sent and is no file; as ``opened``."""
    with _quietly(), _opened(io.BytesIO(data), kind, name) as image:
        yield image


@contextlib.contextmanager
def only_our_decoders() -> Iterator[None]:
    """Whatever another library opens with Pillow meanwhile goes to our decoders, or fails."""
    Image.init()
    before, most = Image.ID[:], Image.MAX_IMAGE_PIXELS
    Image.ID[:] = [kind for kind in before if kind in DECODERS]
    Image.MAX_IMAGE_PIXELS = LARGEST_OUT_PIXELS // 2  # an error is raised at twice as many
    try:
        with _quietly():
            yield
    finally:
        Image.ID[:], Image.MAX_IMAGE_PIXELS = before, most


def load(image: Image.Image) -> None:
    """Decode it; from here on what is read of its file is counted no more."""
    stream = getattr(image, "fp", None)
    if isinstance(stream, _Counted):
        stream.left = None
    image.load()


def exif_of(image: Image.Image) -> Image.Exif:
    """Its EXIF block; of a PNG that is not decoded yet, only if it stands before the pixels.

    Raises one of DECODING_ERRORS where it is damaged, or tells of more than a camera does.
    """
    if image.format == "PNG" and getattr(image, "tile", None) and "exif" not in image.info:
        return Image.Exif()
    if block := _exif_block(image):
        _judge_tables(io.BytesIO(block.removeprefix(b"Exif\0\0").removeprefix(b"Exif\0\0")))
    return image.getexif()


def out_factor(width: int, height: int) -> int:
    """The least whole fraction of its size at which a picture is handed out."""
    factor = 1
    while width * height > LARGEST_OUT_PIXELS * factor * factor:
        factor += 1
    return factor


class _Counted(io.BufferedReader):
    """A file of which no more than so many bytes are read before its picture is decoded."""

    def __init__(self, file: io.FileIO, most: int, name: str) -> None:
        super().__init__(file)
        self.left: int | None = most
        self._most, self._name = most, name

    def read(self, size: int | None = -1, /) -> bytes:
        wanted = -1 if size is None else size
        if self.left is None:
            return super().read(wanted)
        data = super().read(self.left + 1 if wanted < 0 else min(wanted, self.left + 1))
        self.left -= len(data)
        if self.left < 0:
            raise _too_much_beside(self._name, self._most)
        return data


def _kind_of(head: bytes) -> str | None:
    """Which decoder a file's first bytes call for, if one of ours."""
    if head.startswith(b"\xff\xd8\xff"):
        return "JPEG"
    if head.startswith(b"\x89PNG\r\n\x1a\n"):
        return "PNG"
    if head.startswith(_TIFF_STARTS):
        return "TIFF"
    if head.startswith(b"RIFF") and head[8:12] == b"WEBP":
        return "WEBP"
    return "HEIF" if head[4:8] == b"ftyp" and head[8:12] in _HEIF_BRANDS else None


def _quietly() -> AbstractContextManager[object]:
    return warnings.catch_warnings(action="ignore")  # Pillow's, about size and odd tags


@contextlib.contextmanager
def _opened(stream: io.FileIO | io.BytesIO, kind: str | None, name: str) -> Iterator[Image.Image]:
    if kind is None:
        raise UnidentifiedImageError(name)
    if kind == "HEIF":
        _know_heif()
    file: io.BufferedIOBase
    if isinstance(stream, io.BytesIO):
        file = stream
    else:
        file = _Counted(stream, _MOST_WHOLE if kind in _TAKEN_AT_ONCE else _MOST_BESIDE, name)
    if kind == "TIFF":
        _judge_tables(file)
    with DECODERS[kind](file) as image:
        _judge(image, file, name)
        yield image


def _know_heif() -> None:
    # Imported here because few photographs need it and it loads a large library.
    from pi_heif import HeifImageFile

    DECODERS["HEIF"] = HeifImageFile


def _judge(image: Image.Image, file: io.BufferedIOBase, name: str) -> None:
    """Refuse what is too large, in pixels or in the memory that decoding it would take."""
    width, height = image.size
    if width * height > LARGEST_MEGAPIXELS * 1_000_000:
        raise PhotoError(
            tr(
                "'{file}' is {width} x {height} pixels, more than the {most} megapixels that can "
                "be read; give a smaller copy.",
                file=name,
                width=width,
                height=height,
                most=LARGEST_MEGAPIXELS,
            )
        )
    if image.format == "PNG":
        _judge_png_end(file, name)
    need = _bytes_to_come(image, file)
    if need > MOST_BYTES:
        raise PhotoError(
            tr(
                "'{file}' would take {need} MB of memory to open, more than the {most} MB that "
                "a picture may take; give a smaller copy, or the same one as a JPEG.",
                file=name,
                need=round(need / 1e6),
                most=round(MOST_BYTES / 1e6),
            )
        )


def _bytes_to_come(image: Image.Image, file: io.BufferedIOBase) -> int:
    """What decoding will take at most: the library's own, Pillow's picture and what we hand out."""
    width, height = image.size
    pixels, factor = width * height, out_factor(width, height)
    kept = pixels * _BYTES_PER_PIXEL.get(image.mode, 4)
    out = 3 * pixels // factor**2
    if isinstance(image, JpegImagePlugin.JpegImageFile):
        scale = max(scale for scale in (1, 2, 4, 8) if scale <= factor)
        return _coefficient_bytes(image, file) + kept // scale**2 + out
    own = _OWN_BYTES_PER_PIXEL.get(image.format or "", 0) * pixels
    if image.format in _TAKEN_AT_ONCE:
        own += 2 * _size_of(file)
    if isinstance(image, TiffImagePlugin.TiffImageFile) and image.info["compression"] != "raw":
        own += _piece_bytes(image)
    return own + kept + out


def _coefficient_bytes(image: JpegImagePlugin.JpegImageFile, file: io.BufferedIOBase) -> int:
    """A JPEG that tells its picture in several scans is held whole, two bytes a coefficient."""
    # Pillow stops behind the first scan's header: its length, then how many components it has.
    place = file.tell()
    most_across = max((layer[1] for layer in image.layer), default=1) or 1
    most_down = max((layer[2] for layer in image.layer), default=1) or 1
    in_first_scan = _scan_components(file, place)
    if "progressive" not in image.info and in_first_scan == len(image.layer):
        return 0
    share = sum(layer[1] * layer[2] for layer in image.layer) / (most_across * most_down)
    return round(2 * share * image.size[0] * image.size[1])


def _scan_components(file: io.BufferedIOBase, place: int) -> int:
    """How many components the scan has whose header ends here."""
    for count in (1, 2, 3, 4):
        length = 6 + 2 * count
        if place >= length:
            file.seek(place - length)
            head = file.read(3)
            if head == bytes([0, length, count]):
                file.seek(place)
                return count
    file.seek(place)
    return 0


def _piece_bytes(image: TiffImagePlugin.TiffImageFile) -> int:
    """The largest strip or tile of a TIFF, as it lies in the file and unpacked."""
    tags = image.tag_v2
    bits = tags.get(_BITS, (8,))
    each = sum(bits) if isinstance(bits, tuple) else int(bits)
    if _TILE_WIDTH in tags:
        pixels = int(tags[_TILE_WIDTH]) * int(tags.get(_TILE_HEIGHT, 1))
    else:
        pixels = image.size[0] * min(int(tags.get(_ROWS_PER_STRIP, image.size[1])), image.size[1])
    packed = [count for tag in _PIECE_BYTES for count in _numbers(tags.get(tag, 0))]
    return pixels * each // 8 + max(packed)


def _numbers(value: object) -> tuple[int, ...]:
    return value if isinstance(value, tuple) else (int(str(value)),)


def _exif_block(image: Image.Image) -> bytes:
    block: bytes = image.info.get("exif", b"")
    text: str = image.info.get("Raw profile type exif", "")  # as some programs write it into a PNG
    return block or bytes.fromhex("".join(text.split("\n")[3:]))


def _judge_tables(file: io.BufferedIOBase) -> None:
    """Refuse a TIFF, or an EXIF block, of more than a picture has to tell.

    Pillow makes an object of each number, and passes over what is longer than the file.
    """
    most = _size_of(file)
    head = file.read(16)
    order, large = ("<" if head[:1] == b"I" else ">"), 43 in head[2:4]
    (first,) = struct.unpack_from(order + ("Q" if large else "L"), head, 8 if large else 4)
    places, numbers = [first], 0
    for place in places:  # the first table, and then the EXIF table that it points to
        for tag, kind, count, value in _entries(file, place, order, large):
            numbers += count if kind in _NUMBERS and count <= most else 0
            if numbers > _MOST_NUMBERS or (tag in _PIECES and count > _MOST_PIECES):
                raise OSError(f"{count} values in tag {tag}")
            if tag == _EXIF_TABLE and place == first:
                if count != 1 or kind not in _POINTERS or (kind == 16 and not large):
                    raise OSError("an EXIF table at no place")
                places += struct.unpack_from(order + _POINTERS[kind], value)
            if len(places) > 2:
                raise OSError("several EXIF tables")
    file.seek(0)


def _entries(
    file: io.BufferedIOBase, place: int, order: str, large: bool
) -> Iterator[tuple[int, int, int, bytes]]:
    """Each entry of a TIFF's table: tag, kind, count, and the value or its place."""
    count_form, entry_form = ("Q", "HHQ8s") if large else ("H", "HHL4s")
    file.seek(place)
    (entries,) = struct.unpack(order + count_form, file.read(struct.calcsize(order + count_form)))
    for _ in range(min(entries, _MOST_ENTRIES)):
        entry = file.read(struct.calcsize(order + entry_form))
        yield struct.unpack(order + entry_form, entry)


def _judge_png_end(file: io.BufferedIOBase, name: str) -> None:
    """Refuse a PNG with too much beside its pixels: what stands behind them is read whole, too."""
    place, beside = file.tell(), 0
    file.seek(8)
    while len(head := file.read(8)) == 8:
        length = int.from_bytes(head[:4])
        if head[4:] != b"IDAT":
            beside += length
        if beside > _MOST_BESIDE:
            raise _too_much_beside(name, _MOST_BESIDE)
        file.seek(length + 4, io.SEEK_CUR)
    file.seek(place)


def _size_of(file: io.BufferedIOBase) -> int:
    place = file.tell()
    size = file.seek(0, io.SEEK_END)
    file.seek(place)
    return size


def _too_much_beside(name: str, most: int) -> PhotoError:
    return PhotoError(
        tr(
            "'{file}' has more than {most} MB to read before its picture begins; save a plain "
            "copy of it and give that.",
            file=name,
            most=most >> 20,
        )
    )
