"""What is said of frames on the Read page: faces, things in the way, level, two persons."""

import json

import pytest

from builders.docs.web_stage import draw_two
from sitwell.brief.in_the_way import check_without
from sitwell.ui.web import brief
from sitwell.ui.web.example_sitting import draw_frames
from sitwell.ui.web.face_reading import FaceRead, FrameSeen, FrameWork, read_face
from sitwell.ui.web.paper import FrameNote, SitterNote, Sitting, from_text, now, to_text
from sitwell.ui.web.said_of_frames import is_there, move_to_another, say_thing, things_seen
from tests.ui.web.browsing import has_model


def read_of(*things):
    frame = FrameSeen(id="0" * 8, things=things)
    return FaceRead(frames=(frame,), head=None, kept={}, notes=(), advice=())


def test_hair_over_one_ear_counts_as_hair_over_the_ears():
    assert things_seen(read_of("hat", "hair-over-ear-own-left")) == {"hat", "hair-over-ears"}


def test_a_thing_that_was_seen_is_denied_and_told_again():
    sitter, seen = SitterNote(), frozenset({"hat"})
    assert is_there(sitter, "hat", seen)
    say_thing(sitter, "hat", False, seen)
    assert (sitter.without, is_there(sitter, "hat", seen)) == (["hat"], False)
    # a hat that is denied is not seen any more, and can still be told
    say_thing(sitter, "hat", True, frozenset())
    assert (sitter.in_the_way, sitter.without) == (["hat"], [])
    assert is_there(sitter, "hat", frozenset())


def test_a_thing_that_nobody_saw_is_told_and_taken_back_without_denying_it():
    sitter = SitterNote()
    say_thing(sitter, "beard", True, frozenset())
    say_thing(sitter, "beard", False, frozenset())
    assert (sitter.in_the_way, sitter.without) == ([], [])


def test_what_the_page_says_is_never_told_and_denied_at_once():
    sitter = SitterNote()
    for there in (True, False, True):
        say_thing(sitter, "hat", there, frozenset({"hat"}))
        check_without(sitter.without, frozenset(sitter.in_the_way))


def test_the_brief_brings_the_face_and_the_things(tmp_path):
    frames = [FrameNote(id="0" * 8, file="a.jpg", name="a.jpg", face=2),
              FrameNote(id="1" * 8, file="b.jpg", name="b.jpg")]  # fmt: skip
    sitter = SitterNote(frames=frames, in_the_way=["beard"], without=["hat"])
    asked = brief.sitter_asked(Sitting(id="0" * 12, sitters=[sitter]), sitter, tmp_path)
    assert (asked.faces, asked.in_the_way, asked.without) == ({"a.jpg": 2}, ("beard",), ("hat",))


def test_a_frame_goes_to_a_new_sitter_who_has_yet_to_say_yes():
    frame = FrameNote(id="0" * 8, file="a.jpg", name="a.jpg")
    sitter = SitterNote(consent_at="2026", frames=[frame], level=frame.id, level_said=True)
    sitting = Sitting(id="0" * 12, sitters=[sitter])
    move_to_another(sitting, frame)
    first, second = sitting.sitters
    assert (first.frames, first.level, second.frames) == ([], "", [frame])
    assert (sitting.sitter, sitting.consent_at) == (second, "")


def test_a_level_frame_of_earlier_papers_was_chosen_by_a_person():
    sitting = Sitting(id="0" * 12, created=now(), sitters=[SitterNote(level="a")])
    plain = json.loads(to_text(sitting))
    del plain["sitters"][0]["level_said"]
    assert from_text(json.dumps(plain), sitting.id).sitter.level_said


@pytest.mark.skipif(not has_model(), reason="needs the landmark model: sitwell model")
def test_the_frame_nearest_to_square_is_the_level_one(tmp_path):
    files = draw_frames(tmp_path)[::-1]  # the level one last
    sitter = SitterNote(frames=[FrameNote(id=f"{n:08d}", file=file.name, name=file.name)
                                for n, file in enumerate(files)])  # fmt: skip
    asked = brief.sitter_asked(Sitting(id="0" * 12, sitters=[sitter]), sitter, tmp_path)
    work = [FrameWork(id=f.id, name=f.name, file=f.file) for f in sitter.frames]
    read = read_face(asked, work, True, lambda *_: None, lambda: False)
    assert read.level == "00000002"
    assert read.frames[2].seen_deg == pytest.approx((0.0, 0.0, 0.0), abs=0.01)
    assert read_face(asked, work, False, lambda *_: None, lambda: False).level == ""


@pytest.mark.skipif(not has_model(), reason="needs the landmark model: sitwell model")
def test_of_two_faces_the_one_that_was_tapped_is_read(tmp_path):
    draw_two(tmp_path / "two.jpg")
    frame = FrameNote(id="0" * 8, file="two.jpg", name="two.jpg")
    sitter, work = SitterNote(frames=[frame]), [FrameWork(id=frame.id, name="two", file="two.jpg")]

    def read():
        asked = brief.sitter_asked(Sitting(id="0" * 12, sitters=[sitter]), sitter, tmp_path)
        return read_face(asked, work, True, lambda *_: None, lambda: False)

    unsaid = read()
    left, right = unsaid.frames[0].faces_px
    assert unsaid.head is None
    assert "There are 2 faces" in unsaid.frames[0].trouble
    for number, box in enumerate((left, right), start=1):
        frame.face = number
        seen = read().frames[0]
        assert seen.trouble == ""
        assert all(box[0] - 1 <= x <= box[2] + 1 for x, _ in seen.dots)
