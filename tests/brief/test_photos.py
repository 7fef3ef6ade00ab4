"""Photographs of every kind open upright, and what can't serve is refused in one sentence."""

import io
import re

import numpy as np
import pytest
from numpy.testing import assert_allclose
from PIL import Image

from builders.references.heic_fixture import FIXTURE
from sitwell.base.errors import PhotoError, UsageError
from sitwell.brief.photos import open_photo

ORIENTATION = 0x0112
RED, GREEN, BLUE, GREY = (220, 30, 30), (30, 200, 30), (30, 30, 220), (128, 128, 128)


def quarters(width=96, height=64):
    """Red and green above, blue and grey below: every turn and flip looks different."""
    image = Image.new("RGB", (width, height))
    half_w, half_h = width // 2, height // 2
    image.paste(RED, (0, 0, half_w, half_h))
    image.paste(GREEN, (half_w, 0, width, half_h))
    image.paste(BLUE, (0, half_h, half_w, height))
    image.paste(GREY, (half_w, half_h, width, height))
    return image


def corners(rgb):
    h, w = rgb.shape[:2]
    rows, columns = (h // 4, 3 * h // 4), (w // 4, 3 * w // 4)
    return np.array([[rgb[r, c] for c in columns] for r in rows], dtype=float)


def assert_quarters(photo, tolerance=12):
    assert photo.rgb.dtype == np.uint8
    assert_allclose(corners(photo.rgb), [[RED, GREEN], [BLUE, GREY]], atol=tolerance)


def save(tmp_path, name, image, **options):
    path = tmp_path / name
    image.save(path, **options)
    return path


@pytest.mark.parametrize("name", ["a.jpg", "a.png", "a.tif", "a.webp"])
def test_common_files_open_as_they_look(tmp_path, name):
    photo = open_photo(save(tmp_path, name, quarters()))
    assert (photo.width_px, photo.height_px) == (96, 64)
    assert_quarters(photo)


def test_heif_opens_as_it_looks():
    photo = open_photo(FIXTURE)
    assert (photo.width_px, photo.height_px) == (256, 192)
    assert_quarters(photo, tolerance=25)


UNDO = {
    1: None,
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("largest_side_px", [None, 48])
def test_every_orientation_is_turned_upright(tmp_path, orientation, largest_side_px):
    # Stored turned: the camera stores the inverse of what the tag asks the viewer to do.
    stored = quarters() if UNDO[orientation] is None else quarters().transpose(UNDO[orientation])
    exif = Image.Exif()
    exif[ORIENTATION] = orientation
    path = save(tmp_path, "a.jpg", stored, exif=exif, quality=95)
    photo = open_photo(path, largest_side_px=largest_side_px)
    assert (photo.width_px, photo.height_px) == (96, 64)
    assert_quarters(photo)


@pytest.mark.parametrize("name", ["a.jpg", "a.png"])
def test_a_reduced_picture_keeps_its_full_size_in_mind(tmp_path, name):
    path = save(tmp_path, name, quarters(3000, 2000), quality=90)
    photo = open_photo(path, largest_side_px=500)
    assert 500 <= photo.rgb.shape[1] < 1000
    assert_allclose(photo.rgb.shape[1] / photo.rgb.shape[0], 1.5, atol=0.01)
    assert (photo.width_px, photo.height_px) == (3000, 2000)
    assert_allclose(photo.px_per_rgb_px * photo.rgb.shape[1], 3000)
    assert_quarters(photo)
    assert photo.at_size(None).rgb.shape == (2000, 3000, 3)
    assert 1000 <= photo.at_size(1000).rgb.shape[1] < 2000
    assert photo.at_size(500) is photo


def test_a_strip_is_opened_however_small_it_is_asked_for(tmp_path):
    path = save(tmp_path, "strip.png", Image.new("RGB", (40, 8000), (10, 20, 30)))
    assert open_photo(path, largest_side_px=64).rgb.shape == (200, 1, 3)


def test_sixteen_bit_grey_is_scaled_not_clipped(tmp_path):
    values = np.repeat(np.linspace(0, 65535, 64).astype(np.uint16)[None], 64, axis=0)
    photo = open_photo(save(tmp_path, "a.tif", Image.fromarray(values)))
    assert_allclose(photo.rgb[0, :, 0], np.linspace(0, 255, 64), atol=1)


def test_sixteen_bit_colour_is_scaled_not_clipped(tmp_path):
    import tifffile

    values = np.asarray(quarters()).astype(np.uint16) * 257
    tifffile.imwrite(tmp_path / "a.tif", values, photometric="rgb")
    assert_quarters(open_photo(tmp_path / "a.tif"), tolerance=1)


@pytest.mark.parametrize("name", ["a.jpg", "a.tif"])
def test_cmyk_opens_in_its_own_colours(tmp_path, name):
    path = save(tmp_path, name, quarters().convert("CMYK"), quality=95)
    assert_quarters(open_photo(path), tolerance=14)


def test_grey_opens_as_three_equal_channels(tmp_path):
    photo = open_photo(save(tmp_path, "a.png", quarters().convert("L")))
    assert_allclose(photo.rgb[..., 0], photo.rgb[..., 2])


def test_transparent_pixels_show_grey(tmp_path):
    image = quarters().convert("RGBA")
    image.paste((255, 255, 255, 0), (48, 0, 96, 64))
    photo = open_photo(save(tmp_path, "a.png", image))
    assert_allclose(photo.rgb[:, 60:], 128)
    assert_allclose(photo.rgb[10, 10], RED)


def test_palette_pictures_open_in_their_own_colours(tmp_path):
    assert_quarters(open_photo(save(tmp_path, "a.png", quarters().convert("P"))), tolerance=60)


def refuse(path, says, **options):
    with pytest.raises(PhotoError, match=re.escape(says)) as caught:
        open_photo(path, **options)
    assert "\n" not in str(caught.value)


def test_a_missing_file_is_refused(tmp_path):
    refuse(tmp_path / "none.jpg", f"There is no file '{tmp_path / 'none.jpg'}'; check the name.")


def test_a_folder_is_refused(tmp_path):
    refuse(tmp_path, f"'{tmp_path}' is a folder; give the photographs in it.")


def test_an_empty_file_is_refused(tmp_path):
    (tmp_path / "a.jpg").write_bytes(b"")
    refuse(tmp_path / "a.jpg", "'a.jpg' is empty (0 bytes); copy it again from the card.")


@pytest.mark.parametrize("name", ["a.jpg", "a.png", "a.tif", "a.heic"])
def test_a_file_cut_short_is_refused(tmp_path, name):
    whole = tmp_path / name
    noise = np.random.default_rng(1).integers(0, 255, (256, 256, 3), dtype=np.uint8)
    if name == "a.heic":
        whole.write_bytes(FIXTURE.read_bytes())
    else:
        Image.fromarray(noise).save(whole)
    data = whole.read_bytes()
    whole.write_bytes(data[: len(data) * 2 // 3])
    refuse(whole, f"'{name}' is damaged or cut short; copy it again from the card.")


@pytest.mark.parametrize("name", ["a.jpg", "a.txt", "a.nef"])
def test_what_is_no_photograph_is_refused(tmp_path, name):
    (tmp_path / name).write_text("Dear diary, " * 50)
    refuse(
        tmp_path / name,
        f"'{name}' is not a photograph that can be read; "
        "give a JPEG, PNG, TIFF, WebP, HEIF or camera raw file.",
    )


def test_a_picture_beyond_the_limit_is_refused_before_it_is_decoded(tmp_path):
    path = save(tmp_path, "a.png", Image.new("1", (20000, 8600)))
    refuse(
        path,
        "'a.png' is 20000 x 8600 pixels, more than the 170 megapixels that can be read; "
        "give a smaller copy.",
    )
    far = save(tmp_path, "b.png", Image.new("1", (40000, 20000)))
    refuse(
        far,
        "'b.png' is 40000 x 20000 pixels, more than the 170 megapixels that can be read; "
        "give a smaller copy.",
    )


def test_a_picture_too_small_to_show_a_face_is_refused(tmp_path):
    path = save(tmp_path, "a.png", Image.new("RGB", (1, 1)))
    refuse(path, "'a.png' is 1 x 1 pixels, too small to show a face; give a larger copy.")


def test_a_file_that_may_not_be_read_is_refused(tmp_path, monkeypatch):
    path = save(tmp_path, "a.jpg", quarters())

    def locked(*_args, **_options):
        raise PermissionError(13, "no")

    monkeypatch.setattr("os.open", locked)
    refuse(path, "'a.jpg' may not be read; change its permissions and try again.")


def test_a_folder_that_may_not_be_entered_is_refused(tmp_path, monkeypatch):
    def locked(*_args, **_options):
        raise PermissionError(13, "no")

    monkeypatch.setattr("pathlib.Path.is_dir", locked)
    path = tmp_path / "a.jpg"
    refuse(path, f"'{path}' may not be read; change its permissions and try again.")


def test_the_original_is_left_as_it_was(tmp_path):
    path = save(tmp_path, "a.jpg", quarters())
    before = path.read_bytes(), path.stat().st_mtime_ns
    open_photo(path)
    assert (path.read_bytes(), path.stat().st_mtime_ns) == before


def raw_file(path, preview, orientation=1):
    """A small digital negative: sensor values, and an embedded preview where one is given."""
    import tifffile

    tags = [
        (50706, "B", 4, bytes([1, 4, 0, 0]), True),  # the format's version
        (50708, "s", 0, "Invented Camera", True),
        (274, "H", 1, orientation, True),
        (33421, "H", 2, (2, 2), True),
        (33422, "B", 4, bytes([0, 1, 1, 2]), True),
        (50714, "H", 1, 0, True),
        (50717, "H", 1, 65535, True),
        (50721, "2i", 9, sum(((int(i % 4 == 0), 1) for i in range(9)), ()), True),
    ]
    sensor = np.full((128, 192), 20000, dtype=np.uint16)
    with tifffile.TiffWriter(path) as writer:
        if preview is None:
            writer.write(sensor, photometric=32803, extratags=tags, metadata=None)
            return path
        writer.write(
            np.asarray(preview), photometric="rgb", subfiletype=1, subifds=1,
            extratags=[tags[0], tags[1], tags[2], *tags[7:]], metadata=None,
        )  # fmt: skip
        writer.write(sensor, photometric=32803, subfiletype=0, extratags=tags[3:7], metadata=None)
    return path


def test_a_raw_file_shows_its_preview(tmp_path):
    photo = open_photo(raw_file(tmp_path / "a.dng", quarters()))
    assert_quarters(photo)


def test_the_preview_of_an_upright_frame_is_turned_upright(tmp_path):
    stored = quarters().transpose(UNDO[6])
    photo = open_photo(raw_file(tmp_path / "a.dng", stored, orientation=6))
    assert (photo.width_px, photo.height_px) == (96, 64)
    assert_quarters(photo)


def test_a_raw_file_without_a_preview_is_refused(tmp_path):
    refuse(
        raw_file(tmp_path / "a.dng", None),
        "'a.dng' holds no preview; export a JPEG from it and give that.",
    )


def test_a_focal_length_that_cannot_be_given_is_refused(tmp_path):
    path = save(tmp_path, "a.jpg", quarters())
    with pytest.raises(UsageError, match="equivalent focal length of 0 mm can't be; give one from"):
        open_photo(path, focal_35_mm=0.0)


def test_a_damaged_exif_block_does_not_stop_the_reading(tmp_path):
    buffer = io.BytesIO()
    quarters().save(buffer, "JPEG", exif=b"Exif\x00\x00II*\x00\xff\xff\xff\xff" + b"\x07" * 40)
    (tmp_path / "a.jpg").write_bytes(buffer.getvalue())
    photo = open_photo(tmp_path / "a.jpg")
    assert_quarters(photo)
    assert photo.facts.focal_mm is None
