import json
import shutil
import subprocess

import numpy as np
import pytest
from PIL import Image, ImageOps

from sitwell.sort.packet import empty_packet
from sitwell.sort.regions import Regions, add_regions, regions_of
from sitwell.sort.xmp import write_sidecar

FACES = ((0.125, 0.25, 0.375, 0.5), (0.5, 0.125, 0.75, 0.375))


def test_a_picture_without_faces_gets_no_regions():
    empty = Regions(width_px=40, height_px=60, faces=())
    assert add_regions(empty_packet(), empty) == empty_packet()


def test_regions_that_are_there_stay_as_they_are():
    once = add_regions(empty_packet(), Regions(width_px=40, height_px=60, faces=FACES))
    assert add_regions(once, Regions(width_px=40, height_px=60, faces=FACES[:1])) == once
    assert once.count(b"mwg-rs:Type") == 2


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_face_lies_where_it_lies_in_the_stored_picture(tmp_path, orientation):
    # Pillow's own upright view is the outside check: a marked block is found there, and its
    # region has to cover the same block of the stored picture.
    stored = np.zeros((80, 120, 3), dtype=np.uint8)
    stored[8:24, 80:112] = 255
    exif = Image.Exif()
    exif[0x0112] = orientation
    path = tmp_path / "f.png"
    Image.fromarray(stored).save(path, exif=exif)
    with Image.open(path) as image:
        upright = np.asarray(ImageOps.exif_transpose(image))
    rows, columns = np.nonzero(upright[..., 0])
    height, width = upright.shape[:2]
    box = (
        columns.min() / width,
        rows.min() / height,
        (columns.max() + 1) / width,
        (rows.max() + 1) / height,
    )
    regions = regions_of(path, [box])
    assert (regions.width_px, regions.height_px) == (120, 80)
    np.testing.assert_allclose(regions.faces[0], (80 / 120, 8 / 80, 112 / 120, 24 / 80), atol=1e-9)


def test_what_is_no_picture_has_no_regions(tmp_path):
    (tmp_path / "x.jpg").write_bytes(b"nothing")
    assert regions_of(tmp_path / "x.jpg", FACES) is None


@pytest.mark.skipif(shutil.which("exiftool") is None, reason="exiftool is absent")
def test_an_independent_reader_finds_the_faces_by_their_centres(tmp_path):
    photo = tmp_path / "a.jpg"
    photo.write_bytes(b"not touched")
    path = write_sidecar(
        photo, 3, ["k"], faces=Regions(width_px=4000, height_px=6000, faces=FACES)
    ).path
    answer = subprocess.run(
        ["exiftool", "-j", "-struct", "-validate", "-all", str(path)],
        capture_output=True,
        check=True,
    )
    said = json.loads(answer.stdout)[0]
    assert said["Validate"] == "OK"
    assert said["RegionInfo"]["AppliedToDimensions"] == {"W": 4000, "H": 6000, "Unit": "pixel"}
    first, second = said["RegionInfo"]["RegionList"]
    assert first["Type"] == second["Type"] == "Face"
    assert first["Area"] == {"X": 0.25, "Y": 0.375, "W": 0.25, "H": 0.25, "Unit": "normalized"}
    assert second["Area"]["X"] == 0.625
    assert "Name" not in first
    assert said["Rating"] == 3
