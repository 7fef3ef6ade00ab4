"""One opener for every picture: few decoders, chosen by content, judged before a pixel is decoded.

The limits are design choices of ours; the peaks are measured in processes of their own.
"""

import os
import re
import socket
import struct
import subprocess
import sys
import zlib
from pathlib import Path

import pytest
from PIL import Image

from sitwell.base.errors import PhotoError
from sitwell.brief import photos, pictures
from sitwell.brief.photos import open_photo
from sitwell.brief.pictures import only_our_decoders, opened
from sitwell.shoot.frames import capture_time
from tests.brief.test_photos import quarters, refuse

ROOT = Path(__file__).resolve().parents[2]
MOST_MB = 1200  # as docs/reading.md promises

POSTSCRIPT = b"""%!PS-Adobe-3.0 EPSF-3.0
%%BoundingBox: 0 0 64 64
%%EndComments
0 0 64 64 rectfill
%%EOF
"""


def chunk(kind, data):
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png(width, height, depth, colours, *, ahead=b"", behind=b"", interlace=0):
    channels = {0: 1, 2: 3, 4: 2, 6: 4}[colours]
    row = b"\0" + b"\x5a" * (width * channels * depth // 8)
    packer = zlib.compressobj(1)
    packed = b"".join([*(packer.compress(row) for _ in range(height)), packer.flush()])
    head = struct.pack(">IIBBBBB", width, height, depth, colours, 0, 0, interlace)
    parts = chunk(b"IHDR", head), ahead, chunk(b"IDAT", packed), behind, chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + b"".join(parts)


def tiff(entries, rest=b""):
    """A TIFF of one table: tag, type, count, value."""
    table = struct.pack("<H", len(entries))
    table += b"".join(struct.pack("<HHLL", *entry) for entry in sorted(entries)) + b"\0" * 4
    return b"II*\0" + struct.pack("<L", 8) + table + rest


def test_nothing_else_in_the_tool_opens_a_picture():
    calls = re.compile(r"Image\.open\(|imread\(|imdecode\(|pi_heif|ImagePlugin|ImageFile\.Parser")
    found = {
        str(path.relative_to(ROOT))
        for path in (ROOT / "sitwell").rglob("*.py")
        if calls.search(path.read_text(encoding="utf-8"))
    }
    # the raw library's own reader, and the opener itself
    assert found == {"sitwell/brief/raw.py", "sitwell/brief/pictures.py"}


@pytest.mark.parametrize("name", ["a.jpg", "a.png", "a.tif", "a.heic", "a.eps"])
def test_postscript_is_refused_and_starts_no_program(tmp_path, name, monkeypatch):
    def started(*_args, **_options):
        raise AssertionError("a program was started")

    monkeypatch.setattr(subprocess, "Popen", started)
    path = tmp_path / name
    path.write_bytes(POSTSCRIPT)
    refuse(path, f"'{name}' is not a photograph that can be read")
    assert capture_time(path) is None


@pytest.mark.parametrize("kind", ["GIF", "BMP", "PPM", "ICO", "TGA", "AVIF", "JPEG2000"])
def test_what_no_camera_writes_is_refused(tmp_path, kind):
    path = tmp_path / "a.jpg"
    quarters().save(path, kind)
    refuse(path, "'a.jpg' is not a photograph that can be read")


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF", "WEBP"])
def test_the_content_chooses_the_decoder_not_the_name(tmp_path, kind):
    for name in ("a.jpg", "a.png", "a.heic"):
        quarters().save(tmp_path / name, kind)
        assert open_photo(tmp_path / name).width_px == 96


def test_of_a_file_with_several_pictures_the_first_is_opened(tmp_path):
    path = tmp_path / "a.jpg"
    others = [Image.new("RGB", (9000, 40))] * 3
    quarters().save(path, "MPO", save_all=True, append_images=others)
    assert open_photo(path).width_px == 96


def test_another_library_gets_our_decoders_too(tmp_path):
    (tmp_path / "a.jpg").write_bytes(POSTSCRIPT)
    quarters().save(tmp_path / "b.png")
    before = list(Image.ID)
    with only_our_decoders():
        with pytest.raises(OSError, match="cannot identify"):
            Image.open(tmp_path / "a.jpg")
        with Image.open(tmp_path / "b.png") as image:
            assert image.size == (96, 64)
    assert set(before) <= set(Image.ID)


def never_decoded(monkeypatch):
    def decoded(*_):
        raise AssertionError("it was decoded")

    monkeypatch.setattr("PIL.ImageFile.ImageFile.load", decoded)
    monkeypatch.setattr("PIL.ImageFile.ImageFile.load_prepare", decoded)


def test_the_size_is_judged_before_anything_is_decoded(tmp_path, monkeypatch):
    path = tmp_path / "a.png"
    path.write_bytes(png(20_000, 8_600, 8, 0))
    never_decoded(monkeypatch)
    refuse(path, "'a.png' is 20000 x 8600 pixels, more than the 170 megapixels")
    assert capture_time(path) is None


def test_the_memory_is_judged_before_anything_is_decoded(tmp_path, monkeypatch):
    never_decoded(monkeypatch)
    monkeypatch.setattr(pictures, "MOST_BYTES", 20_000)
    for name, options in (
        ("a.png", {}),
        ("a.webp", {}),
        ("a.jpg", {"progressive": True}),
        ("a.tif", {"compression": "tiff_lzw"}),
    ):
        quarters().save(tmp_path / name, **options)
        refuse(tmp_path / name, f"'{name}' would take")


def test_one_huge_strip_counts(tmp_path):
    Image.new("RGB", (64, 64)).save(tmp_path / "a.tif", compression="tiff_lzw", tiffinfo={278: 64})
    with opened(tmp_path / "a.tif") as image:
        one = pictures._piece_bytes(image)
    assert one >= 64 * 64 * 3


def test_a_scan_of_one_component_is_held_whole(tmp_path):
    """Its header differs from a usual one's, and so does the memory that libjpeg takes."""
    for name, options in (("a.jpg", {}), ("b.jpg", {"progressive": True})):
        quarters().save(tmp_path / name, **options)
    with opened(tmp_path / "a.jpg") as plain, opened(tmp_path / "b.jpg") as several:
        assert pictures._coefficient_bytes(plain, plain.fp) == 0
        assert pictures._coefficient_bytes(several, several.fp) == 2 * 96 * 64 * 1.5


@pytest.mark.parametrize("tag", [273, 324])
def test_millions_of_strips_are_refused_unlisted(tmp_path, tag, monkeypatch):
    # a byte for each strip: Pillow would make a list of each
    size = 5_000_000
    entries = [(256, 3, 1, 64), (257, 3, 1, 64), (258, 3, 1, 8), (259, 3, 1, 1), (262, 3, 1, 1)]
    entries += [(tag, 1, size, 200)]
    (tmp_path / "a.tif").write_bytes(tiff(entries, b"\0" * (size + 200)))
    monkeypatch.setattr("PIL.TiffImagePlugin.TiffImageFile._setup", lambda _: 1 / 0)
    refuse(tmp_path / "a.tif", "'a.tif' is damaged or cut short")


def exif_of_numbers(tag, count):
    """An EXIF block with one tag of so many signed bytes; Pillow makes a number of each."""
    return tiff([(tag, 6, count, 26)], b"\x90" * count)


def in_jpeg(block, path):
    """A JPEG with an EXIF block over several segments, and no resolution before it."""
    quarters().save(path, "JPEG")
    parts = (b"Exif\0\0" + block[at : at + 65_000] for at in range(0, len(block), 65_000))
    segments = [b"\xff\xe1" + struct.pack(">H", len(part) + 2) + part for part in parts]
    data = path.read_bytes()
    path.write_bytes(data[:2] + b"".join(segments) + data[20:])


@pytest.mark.parametrize("tag", [0x0112, 0x0128])  # of our asking, and of Pillow's as it opens
@pytest.mark.parametrize("name", ["a.jpg", "a.png", "a.webp", "raw-profile.png"])
def test_numbers_without_end_in_exif_are_not_read(tmp_path, name, tag, monkeypatch):
    block, path = exif_of_numbers(tag, 400_000), tmp_path / name
    if name == "a.jpg":
        in_jpeg(block, path)
    elif name == "a.webp":
        quarters().save(path, exif=block)
    elif name == "a.png":
        path.write_bytes(png(64, 64, 8, 2, ahead=chunk(b"eXIf", block)))
    else:
        text = f"\nexif\n{len(block)}\n{block.hex()}".encode("latin-1")
        text = chunk(b"zTXt", b"Raw profile type exif\0\0" + zlib.compress(text))
        path.write_bytes(png(64, 64, 8, 2, ahead=text))
    monkeypatch.setattr("PIL.TiffImagePlugin.ImageFileDirectory_v2._setitem", lambda *_: 1 / 0)
    photo = open_photo(path)
    assert "The EXIF block is damaged and was not used." in photo.notes
    capture_time(path)


@pytest.mark.parametrize("tag", [258, 339, 36867])
def test_numbers_without_end_in_a_tiff_are_not_read(tmp_path, tag, monkeypatch):
    entries = [(256, 3, 1, 64), (257, 3, 1, 64), (259, 3, 1, 1), (262, 3, 1, 1), (273, 4, 1, 300)]
    entries += [(278, 3, 1, 64), (279, 4, 1, 4096)]
    count, inner = 400_000, b""
    if tag == 36867:  # in the EXIF table
        entries += [(258, 3, 1, 8), (0x8769, 4, 1, 200)]
        inner = struct.pack("<HHHLL", 1, tag, 6, count, 300)
    else:
        entries += [(tag, 6, count, 300)]
    head = tiff(entries).ljust(200, b"\0") + inner.ljust(100, b"\0")
    (tmp_path / "a.tif").write_bytes(head + b"\x90" * count)
    monkeypatch.setattr("PIL.TiffImagePlugin.TiffImageFile._setup", lambda _: 1 / 0)
    refuse(tmp_path / "a.tif", "'a.tif' is damaged or cut short")


def test_a_tag_longer_than_the_file_takes_no_other_with_it(tmp_path):
    block = tiff([(0x0112, 3, 1, 6), (0x010F, 4, 2**31, 26)])
    in_jpeg(block, tmp_path / "a.jpg")
    photo = open_photo(tmp_path / "a.jpg")
    assert (photo.width_px, photo.height_px) == (64, 96)


def jpeg_with(beside_bytes, path):
    quarters().save(path, "JPEG")
    data = path.read_bytes()
    segment = b"\xff\xe2\xff\xff" + b"\0" * 65533
    path.write_bytes(data[:2] + segment * (beside_bytes // len(segment)) + data[2:])


def test_metadata_without_end_is_refused(tmp_path):
    jpeg_with(40 << 20, tmp_path / "a.jpg")
    big = b"\0" * (40 << 20)
    (tmp_path / "b.png").write_bytes(png(64, 64, 8, 2, ahead=chunk(b"eXIf", big)))
    (tmp_path / "c.png").write_bytes(png(64, 64, 8, 2, behind=chunk(b"eXIf", big)))
    entries = [(256, 3, 1, 64), (257, 3, 1, 64), (258, 3, 1, 8), (259, 3, 1, 1), (262, 3, 1, 1)]
    entries += [(273, 4, 1, 8), (278, 3, 1, 64), (279, 4, 1, 4096), (700, 1, len(big), 200)]
    (tmp_path / "d.tif").write_bytes(tiff(entries, big + b"\0" * 200))
    for name in ("a.jpg", "b.png", "c.png", "d.tif"):
        refuse(tmp_path / name, f"'{name}' has more than 32 MB to read before its picture begins")
    jpeg_with(20 << 20, tmp_path / "e.jpg")
    assert open_photo(tmp_path / "e.jpg").width_px == 96


def test_exif_behind_the_pixels_of_a_png_is_read_when_they_are(tmp_path):
    exif = Image.Exif()
    exif[0x0112] = 6
    exif.get_ifd(0x8769)[36867] = "2026:01:01 10:00:00"
    block = chunk(b"eXIf", exif.tobytes()[6:])
    (tmp_path / "a.png").write_bytes(png(96, 64, 8, 2, behind=block))
    photo = open_photo(tmp_path / "a.png")
    assert (photo.width_px, photo.height_px) == (64, 96)
    assert photo.facts.taken.hour == 10


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes on this system")
def test_a_pipe_a_socket_or_a_device_is_refused_at_once(tmp_path):
    os.mkfifo(tmp_path / "pipe.jpg")
    (tmp_path / "link.jpg").symlink_to(tmp_path / "pipe.jpg")
    (tmp_path / "zero.jpg").symlink_to("/dev/zero")
    (tmp_path / "pipe.nef").symlink_to(tmp_path / "pipe.jpg")
    here = os.open(".", os.O_RDONLY)
    os.chdir(tmp_path)  # a socket's name is short
    try:
        with socket.socket(socket.AF_UNIX) as held:
            held.bind("socket.jpg")
    finally:
        os.fchdir(here)
        os.close(here)
    for name in ("pipe.jpg", "link.jpg", "zero.jpg", "pipe.nef", "socket.jpg"):
        refuse(tmp_path / name, f"'{name}' is a pipe, a socket or a device")
        assert capture_time(tmp_path / name) is None


PEAK = """
import sys
from pathlib import Path
from sitwell.base.errors import PhotoError
from sitwell.brief.photos import open_photo
try:
    print(*open_photo(sys.argv[1]).rgb.shape)
except PhotoError as error:
    print(error)
status = Path("/proc/self/status").read_text()
print(int(status.split("VmHWM:")[1].split()[0]) * 1024 // 1_000_000)
"""


def peak_mb(path):
    """What opening a picture takes at most, in a process of its own, and how it went."""
    done = subprocess.run(
        [sys.executable, "-c", PEAK, path],
        capture_output=True, text=True, check=True, timeout=250, cwd=ROOT,
    )  # fmt: skip
    said, peak = done.stdout.strip().splitlines()
    return int(peak), said


def picture_bytes(name, path):
    side = 13_000  # 169 megapixels
    if name == "deep-grey.png":
        path.write_bytes(png(side, side, 16, 0))
    elif name == "see-through.png":
        path.write_bytes(png(side, side, 8, 6))
    elif name == "woven.png":  # an interlaced one: too little of it for a whole picture
        path.write_bytes(png(side, 1000, 8, 2, interlace=1))
    elif name == "several-scans.jpg":
        Image.new("RGB", (side, side), (9, 8, 7)).save(path, progressive=True)
    elif name == "huge-tiles.tif":
        entries = [(256, 4, 1, 64), (257, 4, 1, 64), (258, 3, 1, 8), (259, 3, 1, 8)]
        entries += [(262, 3, 1, 1), (322, 4, 1, 100_000), (323, 4, 1, 100_000)]
        path.write_bytes(tiff([*entries, (324, 4, 1, 300), (325, 4, 1, 100)], b"\0" * 500))


@pytest.mark.slow
@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="the peak is told by Linux")
@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("deep-grey.png", "6500 6500 3"),
        ("see-through.png", "6500 6500 3"),
        ("several-scans.jpg", "6500 6500 3"),
        ("woven.png", ""),
        ("huge-tiles.tif", "would take 10000 MB of memory"),
    ],
)
def test_no_picture_takes_more_memory_than_is_promised(tmp_path, name, said):
    picture_bytes(name, tmp_path / name)
    peak, says = peak_mb(tmp_path / name)
    assert peak < MOST_MB
    assert said in says


def test_a_large_picture_is_upright_at_a_half_of_its_size(tmp_path, monkeypatch):
    """Made in bands, as a picture of more than 64 megapixels is, with every orientation."""
    from tests.brief.test_photos import UNDO, assert_quarters

    monkeypatch.setattr(pictures, "LARGEST_OUT_PIXELS", 4000)
    monkeypatch.setattr(photos, "_AT_ONCE_PIXELS", 100)
    monkeypatch.setattr(photos, "_BAND_PIXELS", 96 * 14)
    for orientation, undo in UNDO.items():
        exif = Image.Exif()
        exif[0x0112] = orientation
        stored = quarters() if undo is None else quarters().transpose(undo)
        stored.save(tmp_path / "a.png", exif=exif)
        photo = open_photo(tmp_path / "a.png")
        assert photo.rgb.shape == (32, 48, 3)
        assert (photo.width_px, photo.height_px) == (96, 64)
        assert_quarters(photo)


def test_damaged_tables_are_refused_in_a_sentence(tmp_path):
    for data in (b"II*\0", b"II+\0" + b"\0" * 12, b"MM\0*\0\0\0\x08\xff\xff"):
        (tmp_path / "a.tif").write_bytes(data)
        with pytest.raises(PhotoError, match="damaged or cut short"):
            open_photo(tmp_path / "a.tif")
