"""What is done with a sorted folder afterwards finds its frames again."""

import numpy as np
import pytest
from PIL import Image

from sitwell.base.errors import ModelError, SearchStoppedError
from sitwell.face.model import model_path
from sitwell.ui.web.sorting import (
    SortWork,
    choose_frame,
    draw_proof,
    sort_frames,
    thumb_name,
    write_ratings,
)


def has_model():
    try:
        return model_path().exists()
    except ModelError:
        return False


pytestmark = pytest.mark.skipif(not has_model(), reason="needs the landmark model: sitwell model")


@pytest.fixture
def work(tmp_path):
    """Two frames of one burst without a face, sorted once."""
    folder = tmp_path / "frames"
    folder.mkdir()
    for number in (1, 2):
        exif = Image.Exif()
        exif.get_ifd(0x8769)[36867] = "2026:03:14 10:15:00"
        exif.get_ifd(0x8769)[37521] = f"{number}00"
        noise = np.random.default_rng(7).integers(0, 255, (60, 80, 3), dtype=np.uint8)
        Image.fromarray(noise).resize((320, 240)).save(folder / f"{number}.jpg", exif=exif)
    made = SortWork(folder=folder, state=tmp_path / "state", plan=None, setup="")
    found = sort_frames(made, lambda share, doing: None, lambda: False)
    assert [len(burst.frames) for burst in found.bursts] == [2]
    return made


def test_a_person_s_choice_is_put_forward_and_remembered(work):
    found = choose_frame(work, "2.jpg")
    assert [burst.best.file for burst in found.bursts] == ["2.jpg"]
    assert found.bursts[0].best.by_person
    assert (work.state / "drawn" / thumb_name("2.jpg")).exists()
    again = choose_frame(work, "1.jpg")
    assert again.bursts[0].best.file == "1.jpg"


def test_ratings_and_proof_find_what_was_sorted(work):
    choose_frame(work, "2.jpg")
    told = []
    assert write_ratings(work, "en", lambda *how: told.append(how), lambda: False) >= 1
    assert told == [(0.0, "writing the ratings"), (0.5, "writing the ratings")]
    assert list(work.folder.glob("*.xmp"))
    target = work.state / "drawn" / "proof.pdf"
    proof = draw_proof(
        work, target, "A sitting", "de", lambda *how: told.append(how), lambda: False
    )
    assert proof.read_bytes().startswith(b"%PDF")
    assert told[-1] == (1.0, "drawing the frames")


def test_a_hand_over_that_is_stopped_leaves_no_half_file(work):
    choose_frame(work, "2.jpg")
    silent, stopped = lambda share, doing: None, lambda: True
    target = work.state / "drawn" / "proof.pdf"
    with pytest.raises(SearchStoppedError, match="Sorting was stopped; start it again"):
        draw_proof(work, target, "A sitting", "en", silent, stopped)
    assert not target.exists()
    with pytest.raises(SearchStoppedError):
        write_ratings(work, "en", silent, stopped)
    assert not list(work.folder.glob("*.xmp"))
