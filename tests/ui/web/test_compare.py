"""Two frames at the eyes: where the eyes are, also where no face is found."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from PIL import Image

from sitwell.base.errors import PhotoError
from sitwell.face.landmarks import FaceReading
from sitwell.sort.rank import Ranked
from sitwell.ui.web import compare
from sitwell.ui.web.compare import CLOSE_SIDE_PX, EYE_CORNERS, look_closely
from sitwell.ui.web.sorting import SortWork


def frame(name="a.jpg", faces=()):
    return Ranked(
        file=name, place=1, put_forward=True, reason="", by_person=False, findings=(), faces=faces
    )


@pytest.fixture
def work(tmp_path):
    folder = tmp_path / "frames"
    folder.mkdir()
    Image.new("RGB", (4800, 3600), (90, 90, 90)).save(folder / "a.jpg")
    return SortWork(folder=folder, state=tmp_path / "state", plan=None, setup="")


def face(own_right, own_left):
    marks = np.full((478, 2), 900.0)
    for corners, (x, y) in zip(EYE_CORNERS, (own_right, own_left), strict=True):
        marks[list(corners)] = [(x - 50.0, y), (x + 50.0, y)]
    marks[10], marks[152] = (1000.0, 300.0), (1000.0, 1500.0)
    return FaceReading(landmarks_px=marks, depth_px=np.zeros(478), blendshapes={}, matrix=np.eye(4))


def test_the_eyes_are_found_in_the_view_s_own_pixels(work, monkeypatch):
    found = face((1600.0, 1000.0), (2000.0, 1040.0))
    monkeypatch.setattr(compare, "find_faces", lambda photo: (found,))
    close = look_closely(work, frame())
    assert (close.width, close.height) == (CLOSE_SIDE_PX, 2700)
    share = close.width / 4800
    assert_allclose(close.eyes, (1800.0 * share, 1020.0 * share), rtol=1e-6)
    assert close.between == pytest.approx(share * np.hypot(400.0, 40.0))
    assert (work.state / "drawn" / close.name).exists()


def test_without_a_face_the_box_that_sorting_found_will_do(work, monkeypatch):
    monkeypatch.setattr(compare, "find_faces", lambda photo: ())
    close = look_closely(work, frame(faces=((0.5, 0.25, 0.75, 0.75),)))
    x, y = close.eyes
    assert 0.5 * close.width < x < 0.75 * close.width
    assert 0.25 * close.height < y < 0.5 * close.height
    middle = look_closely(work, frame())
    assert 0 < middle.eyes[0] < middle.width


def test_a_frame_that_has_gone_is_told(work):
    with pytest.raises(PhotoError, match="There is no file"):
        look_closely(work, frame("gone.jpg"))


def test_what_the_browser_is_told_names_our_own_view(work, monkeypatch):
    monkeypatch.setattr(compare, "find_faces", lambda photo: ())
    told = look_closely(work, frame()).pane("abc")
    assert told["src"].startswith("/drawn/abc/close-")
    assert str(work.folder) not in str(told)
