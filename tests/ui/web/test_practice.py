"""Practising before a camera: one thing is said, it does not flicker, and nothing is kept."""

import io

import numpy as np
import pytest
from PIL import Image

from sitwell.base.errors import ModelError, WebError
from sitwell.face.model import model_path
from sitwell.head.surface import SIDES, build_head
from sitwell.scene.preview import Sculpture
from sitwell.scene.setup import Setup
from sitwell.search.plan import Leeway, PlannedSetup
from sitwell.shoot.frame_facts import Sight
from sitwell.ui.web import practice
from sitwell.ui.web.practice import LARGEST_SIDE_PX, Practice, Practices

SETUP = Setup(turn_deg=20.0)


def has_model():
    try:
        return model_path().exists()
    except ModelError:
        return False


def planned(setup=SETUP):
    return PlannedSetup(
        name="strong",
        setup=setup,
        measures={},
        gains=(),
        guards=(),
        leeway=(Leeway(move="turn_deg", low=16.0, high=24.0, low_why="", high_why=""),),
        reasons=(),
    )


def jpeg(size=(64, 48)):
    made = io.BytesIO()
    Image.new("RGB", size, (120, 110, 100)).save(made, "JPEG")
    return made.getvalue()


@pytest.fixture(scope="module")
def head():
    return build_head()


@pytest.fixture
def seen(monkeypatch, head):
    """A practice whose camera sees what it is told: turns in degrees, None for no face."""
    turns = []

    def look(photo, faces, sitter):
        turn_deg = turns.pop(0)
        if turn_deg is None:
            return (Sight(faces=0),)
        moves = {"turn_deg": turn_deg, "chin_deg": 0.0, "tilt_deg": 0.0}
        return (Sight(faces=1, moves=moves, spread={"turn_deg": 1.5}),)

    monkeypatch.setattr(practice, "find_faces", lambda photo: ())
    monkeypatch.setattr(practice, "look_at", look)
    made = Practice.of(head, planned(), SETUP)

    def told(*values):
        turns.extend(values)
        return [made.look(jpeg())["say"] for _ in values]

    return told


def test_what_is_missing_is_said_and_what_holds_is_praised(seen):
    (short,) = seen(5.0)
    assert "your left shoulder" in short
    assert seen(20.0) == ["Lovely. Hold all of this."]
    (past,) = seen(40.0)
    assert "your right shoulder" in past


def test_the_words_do_not_flicker(seen):
    noise = np.random.default_rng(4).normal(0.0, 1.0, 30)
    # a little outside the leeway: whatever is said first stays said
    assert len(set(seen(*(12.5 + noise).tolist()))) == 1


def test_no_face_is_told(seen):
    assert seen(None) == ["No face in the picture."]


def test_how_the_sitter_stands_is_told(monkeypatch, head):
    sight = Sight(faces=1, moves={"turn_deg": 12.0, "chin_deg": -3.0, "tilt_deg": 0.0})
    monkeypatch.setattr(practice, "find_faces", lambda photo: ())
    monkeypatch.setattr(practice, "look_at", lambda *_: (sight,))
    rows = Practice.of(head, planned(), SETUP).look(jpeg())["moves"]
    assert [row["value"] for row in rows] == ["12° to their left", "3° down", "upright"]


@pytest.mark.parametrize("body", [b"", b"no picture", jpeg()[:40], b"GIF89a" + bytes(40)])
def test_what_is_no_whole_jpeg_is_refused(head, body):
    with pytest.raises(WebError, match="is not a whole JPEG; send another"):
        Practice.of(head, planned(), SETUP).look(body)


def test_a_picture_that_is_too_large_is_refused(head):
    side = LARGEST_SIDE_PX + 1
    with pytest.raises(WebError, match=f"{side} x 8 pixels is too large; send at most"):
        Practice.of(head, planned(), SETUP).look(jpeg((side, 8)))


def test_another_set_up_or_head_begins_anew(head):
    kept = Practices()
    first = kept.of("k", head, planned(), SETUP)
    assert kept.of("k", head, planned(), SETUP) is first
    other = SETUP.with_changes(turn_deg=10.0)
    assert kept.of("k", head, planned(), other).planned.leeway == ()
    assert kept.of("k", build_head(), planned(), SETUP) is not first


def test_without_a_set_up_there_is_nothing_to_practise(head):
    for missing in ((None, planned(), SETUP), (head, None, SETUP), (head, planned(), None)):
        with pytest.raises(WebError, match="no set-up to practise yet"):
            Practices().of("k", *missing)


def test_how_far_off_they_are_is_told_once_the_focal_length_is_chosen(monkeypatch, head):
    sight = Sight(faces=1, moves={"turn_deg": 12.0})
    monkeypatch.setattr(practice, "find_faces", lambda photo: (None,))
    monkeypatch.setattr(practice, "look_at", lambda *_: (sight,))
    monkeypatch.setattr(practice, "distance_seen_mm", lambda photo, *_: 1e6 / photo.focal.px)
    kept = Practices()
    (turn,) = kept.of("k", head, planned(), SETUP).look(jpeg())["moves"]
    assert turn["value"] == "12° to their left"
    kept.focal_35_mm = 35.0  # of a diagonal of 80 px: 35 / 43.27 * 80 = 64.7 px, so 15.45 m
    away = kept.of("k", head, planned(), SETUP).look(jpeg())["moves"][-1]
    assert away == {"name": "Distance", "value": "15.45 m"}
    feet = kept.of("k", head, planned(), SETUP).look(jpeg(), "imperial")["moves"][-1]
    assert feet["value"] == "50 ft 8 in"


def test_a_focal_length_is_named_with_its_angle_of_view():
    # 2 atan(21.63 / 28) = 75.4 degrees over the diagonal of 36 x 24 mm
    assert practice.focal_names()["28"] == "28 mm, 75° from corner to corner"


@pytest.mark.slow
@pytest.mark.skipif(not has_model(), reason="needs the landmark model: sitwell model")
def test_a_head_at_arm_s_length_is_as_far_off_as_it_stands(head):
    """The picture of a 28 mm camera: our rendered head on a larger field about the lens axis."""
    seen = Sculpture(head).render(Setup(distance_mm=700.0, focal_mm=28.0), 640, 800)
    made = io.BytesIO()
    Image.fromarray(seen).save(made, "JPEG")
    (face,) = practice.find_faces(practice._photo(made.getvalue(), 28.0))
    eyes = [face.landmarks_px[number] for number in (468, 473)]  # the pupils
    apart, pupils = np.linalg.norm(eyes[1] - eyes[0]), [head.point(f"iris_{s}") for s in SIDES]
    apart_mm, near_mm = np.linalg.norm(pupils[1] - pupils[0]), 700.0 - pupils[0][2]
    # so many pixels a diagonal of 43.27 mm has behind a lens of 28 mm, cut to 4:3
    wide, high = (round(share * apart / apart_mm * near_mm / 28.0 * 43.27) for share in (0.8, 0.6))
    field = Image.new("RGB", (wide, high), (110, 110, 110))
    middle = (eyes[0] + eyes[1]) / 2.0
    field.paste(Image.fromarray(seen), (round(wide / 2 - middle[0]), round(high / 2 - middle[1])))
    field.thumbnail((720, 720))
    made = io.BytesIO()
    field.save(made, "JPEG", quality=90)
    kept = Practices(focal_35_mm=28.0)
    told = kept.of("k", head, planned(), SETUP).look(made.getvalue())["moves"][-1]["value"]
    assert abs(int(told.removesuffix(" cm")) - 70) <= 4  # 5 %: the head is rendered, and fitted


def test_nothing_is_written(seen, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    seen(5.0, 20.0)
    assert list(tmp_path.iterdir()) == []
