import zlib
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from builders.references.heic_fixture import FIXTURE, TAKEN
from sitwell.shoot import frames as frames_module
from sitwell.shoot.frames import (
    Frame,
    capture_time,
    clock_s,
    ends_whole,
    group_frames,
    is_photo,
    natural_key,
    same_moment,
    why_unreadable,
)
from tests.brief.test_photos import quarters, raw_file


def save(path, taken="2026:01:01 10:00:00", subsec="", offset=""):
    grain = np.random.default_rng(7).integers(0, 255, (240, 320, 3), dtype=np.uint8)
    image, exif = Image.fromarray(grain), Image.Exif()
    details = exif.get_ifd(0x8769)
    details.update({36867: taken, 37521: subsec, 36881: offset} if taken else {})
    image.save(path, "JPEG" if path.suffix.lower() != ".png" else "PNG", exif=exif)
    return path


@pytest.mark.parametrize(
    ("digits", "microsecond"), [("5", 500_000), ("05", 50_000), ("050", 50_000), ("", 0)]
)
def test_sub_seconds_are_a_decimal_fraction(tmp_path, digits, microsecond):
    # Exif SubSecTimeOriginal is a fraction written as digits: from memory of the standard.
    assert capture_time(save(tmp_path / "a.jpg", subsec=digits)).microsecond == microsecond


def test_the_offset_from_utc_counts_and_a_missing_one_is_utc(tmp_path):
    east = capture_time(save(tmp_path / "a.jpg", offset="+02:00"))
    plain = capture_time(save(tmp_path / "b.jpg"))
    assert clock_s(plain) - clock_s(east) == 7200
    assert clock_s(None) is None


def test_no_time_and_no_picture_give_no_time(tmp_path):
    assert capture_time(save(tmp_path / "a.jpg", taken="")) is None
    (tmp_path / "b.jpg").write_bytes(b"nothing")
    assert capture_time(tmp_path / "b.jpg") is None
    assert capture_time(tmp_path / "gone.nef") is None
    assert capture_time(raw_file(tmp_path / "no-preview.dng", None)) is None


def test_a_picture_that_claims_to_be_huge_gives_no_time(tmp_path):
    chunk = b"IHDR" + (40_000).to_bytes(4) * 2 + bytes([8, 2, 0, 0, 0])
    size = (len(chunk) - 4).to_bytes(4)
    check = zlib.crc32(chunk).to_bytes(4)
    (tmp_path / "a.png").write_bytes(b"\x89PNG\r\n\x1a\n" + size + chunk + check)
    assert capture_time(tmp_path / "a.png") is None


def test_the_time_of_a_heif_file_is_read():
    assert f"{capture_time(FIXTURE):%Y:%m:%d %H:%M:%S}" == TAKEN


def test_a_camera_master_and_its_jpeg_are_one_frame_and_others_are_not(tmp_path):
    for name in ("D_0001.HEIC", "d_0001.jpg", "D_0002.jpg", "D_0003.jpg", "D_0003.png"):
        save(tmp_path / name)
    frames = group_frames(tmp_path.iterdir())
    assert [f.path.name for f in frames] == ["d_0001.jpg", "D_0002.jpg", "D_0003.jpg", "D_0003.png"]
    assert [c.name for c in frames[0].companions] == ["D_0001.HEIC"]
    assert frames[0].master.name == "D_0001.HEIC"
    assert frames[1].master.name == "D_0002.jpg"


def test_a_name_used_again_for_another_moment_is_another_frame(tmp_path):
    save(tmp_path / "a.heic", "2026:01:01 10:00:00")
    save(tmp_path / "a.jpg", "2026:01:09 10:00:00")
    assert len(group_frames(tmp_path.iterdir())) == 2


def test_one_moment_with_and_without_its_offset_is_one_moment():
    plain = datetime(2026, 1, 1, 10)
    assert same_moment(plain, plain.replace(tzinfo=timezone(timedelta(hours=5))))
    assert same_moment(None, plain)
    assert not same_moment(plain, plain + timedelta(seconds=3))
    assert clock_s(plain) == plain.replace(tzinfo=UTC).timestamp()


def test_names_sort_as_a_person_would():
    paths = [Path(n) for n in ("b2", "shot10.jpg", "Shot9.jpg", "ä1", "9", "x²")]
    assert [p.name for p in sorted(paths, key=natural_key)].index("Shot9.jpg") < 4
    ordered = [p.name for p in sorted(paths, key=natural_key)]
    assert ordered.index("Shot9.jpg") < ordered.index("shot10.jpg")


@pytest.mark.parametrize(
    ("name", "counts"),
    [("a.JPG", True), ("a.nef", True), (".a.jpg", False), ("a.jpg.part", False), ("a.xmp", False)],
)
def test_what_counts_as_a_photograph(name, counts):
    assert is_photo(Path(name)) is counts


def test_a_whole_picture_is_readable_and_a_cut_one_is_not(tmp_path):
    whole = save(tmp_path / "a.jpg")
    assert why_unreadable(whole) is None
    data = whole.read_bytes()
    for share in (0.0, 0.1, 0.5, 0.9, 0.999):
        whole.write_bytes(data[: int(len(data) * share)])
        assert "copy it again from the card" in why_unreadable(whole)
    whole.write_bytes(data[: len(data) // 2].ljust(len(data), b"\0"))
    assert "damaged or cut short" in why_unreadable(whole)
    whole.write_bytes(data + b"\0" * 4096)
    assert why_unreadable(whole) is None


def test_a_raw_file_is_readable_when_its_sensor_values_are_there(tmp_path):
    path = raw_file(tmp_path / "a.dng", quarters())
    assert why_unreadable(path) is None
    data = path.read_bytes()
    for share in (0.2, 0.5, 0.9, 0.99):  # from a half on, the preview alone is whole
        path.write_bytes(data[: int(len(data) * share)])
        assert why_unreadable(path) is not None


def test_a_raw_file_and_its_jpeg_are_one_frame(tmp_path):
    raw_file(tmp_path / "D_0001.dng", quarters())
    save(tmp_path / "D_0001.JPG")
    (frame,) = group_frames(tmp_path.iterdir())
    assert frame.path.name == "D_0001.JPG"
    assert frame.master.name == "D_0001.dng"
    assert frame.taken is not None


def test_what_has_gone_has_its_sentence(tmp_path, monkeypatch):
    def gone(*_):
        raise FileNotFoundError

    monkeypatch.setattr(frames_module, "_jpeg_ends", gone)
    assert "has gone; it is looked for again" in why_unreadable(save(tmp_path / "a.jpg"))
    assert "no file" in why_unreadable(tmp_path / "gone.jpg")


def test_a_frame_alone_is_its_own_master():
    assert Frame(path=Path("a.jpg")).master == Path("a.jpg")


def test_only_a_jpeg_that_ends_with_its_own_marker_vouches_for_itself(tmp_path):
    path = save(tmp_path / "a.jpg")
    data = path.read_bytes()
    assert ends_whole(path)
    for name, content in (
        ("cut.jpg", data[:-1]),
        ("padded.jpg", data + b"\0" * 10),
        ("more.jpg", data[:20] + b"MPF\0" + data[20:]),
        ("other.jpg", b"x" + data),
    ):
        (tmp_path / name).write_bytes(content)
        assert not ends_whole(tmp_path / name)
    assert not ends_whole(save(tmp_path / "a.png"))
    assert not ends_whole(tmp_path / "gone.jpg")
