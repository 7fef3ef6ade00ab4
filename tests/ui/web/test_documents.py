"""Working papers: never half written, never overwritten unseen, gone when their time is over."""

import asyncio
import json
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from sitwell.base.errors import WebError
from sitwell.ui.web.documents import Shelf
from sitwell.ui.web.paper import FrameNote, from_text, now
from tests.waiting import soon


@pytest.fixture
def shelf(tmp_path):
    return Shelf(tmp_path)


def paper(shelf, sitting):
    return shelf.place(sitting.id) / "sitting.json"


def test_a_sitting_reads_back_as_it_was_written(shelf, tmp_path):
    sitting = shelf.new()
    sitting.label = "Mara"
    sitting.sitter.wishes["ears"] = ["soften", 3]
    frame = FrameNote(id="0123abcd", file="0123abcd.jpg", name="a.jpg", marks={"chin": [3.0, 4.0]})
    sitting.sitter.frames.append(frame)
    shelf.write(sitting)
    assert Shelf(tmp_path).open(sitting.id) == sitting


def test_only_its_owner_may_read_a_paper(shelf):
    sitting = shelf.new()
    assert paper(shelf, sitting).stat().st_mode & 0o077 == 0
    assert shelf.place(sitting.id).stat().st_mode & 0o077 == 0


def test_all_tabs_share_one_sitting(shelf):
    sitting = shelf.new()
    assert shelf.open(sitting.id) is shelf.open(sitting.id)


def test_a_change_is_saved_in_a_moment_and_others_are_told(shelf):
    told = []

    async def change():
        sitting = shelf.new()
        stop = shelf.watch(sitting.id, told.append)
        sitting.label = "Ida"
        shelf.changed(sitting, "tab 1")
        await soon(lambda: "Ida" in paper(shelf, sitting).read_text())
        stop()
        shelf.changed(sitting, "tab 2")
        shelf.flush()
        return sitting

    sitting = asyncio.run(change())
    assert told == ["tab 1"]
    written = json.loads(paper(shelf, sitting).read_text())
    assert (written["label"], written["revision"]) == ("Ida", 2)


def test_what_another_program_wrote_is_kept_beside_ours(shelf):
    sitting = shelf.new()
    theirs = json.loads(paper(shelf, sitting).read_text()) | {"revision": 7, "label": "theirs"}
    paper(shelf, sitting).write_text(json.dumps(theirs))
    sitting.label, sitting.revision = "ours", 1
    shelf.write(sitting)
    assert json.loads(paper(shelf, sitting).read_text())["label"] == "ours"
    kept = shelf.place(sitting.id) / "sitting-kept-7.json"
    assert json.loads(kept.read_text())["label"] == "theirs"


def test_papers_go_when_their_day_is_over(shelf):
    today, week = shelf.new(), shelf.new()
    today.keep_days, week.keep_days = 0, 7
    shelf.write(today)
    shelf.write(week)
    begun = datetime.now().astimezone().date()
    assert shelf.erase_expired(begun) == 0
    assert shelf.erase_expired(begun + timedelta(1)) == 1
    assert not shelf.place(today.id).exists()
    assert shelf.place(week.id).exists()
    assert shelf.erase_expired(begun + timedelta(8)) == 1


def test_wishes_without_leave_go_after_the_day_after_the_sitting(shelf):
    kept, dropped = shelf.new(), shelf.new()
    for sitting in (kept, dropped):
        sitting.keep_days = 30
        sitting.sitter.wishes["skin"] = ["soften", 1]
        shelf.write(sitting)
    kept.keep_wishes = True
    shelf.erase_expired(datetime.now().astimezone().date() + timedelta(1))
    assert dropped.sitter.wishes
    shelf.erase_expired(datetime.now().astimezone().date() + timedelta(2))
    assert kept.sitter.wishes
    assert not dropped.sitter.wishes
    assert "skin" not in paper(shelf, dropped).read_text()


def test_an_erased_sitting_is_not_written_again(shelf):
    sitting = shelf.new()
    shelf.erase(sitting.id)
    shelf.write(sitting)
    assert not shelf.place(sitting.id).exists()


@pytest.mark.parametrize("elsewhere", [False, True])
def test_work_under_way_does_not_bring_an_erased_sitting_back(shelf, tmp_path, elsewhere):
    """A frame that was still on its way, or a plan, makes the folder anew; also after the command
    line's forgetting, of which this program was not told."""
    sitting = shelf.new()
    (Shelf(tmp_path) if elsewhere else shelf).erase(sitting.id)
    late = shelf.place(sitting.id) / "frames" / "late.jpg"
    late.parent.mkdir(parents=True)
    late.write_bytes(b"late")
    shelf.write(sitting)
    assert not paper(shelf, sitting).exists()
    with pytest.raises(WebError, match="is not here any more"):
        shelf.open(sitting.id)
    shelf.erase_again()
    assert not shelf.place(sitting.id).exists()


@pytest.mark.parametrize("name", ["..", "a/b", "", "0123456789AB", "0123456789abc"])
def test_a_name_that_is_no_sitting_leads_nowhere(shelf, name):
    with pytest.raises(WebError, match="is not a sitting; open one from the first page"):
        shelf.place(name)


def whole(**changes):
    plain = {"id": "a" * 12, "created": now(), "sitters": [{"frames": []}]}
    return json.dumps(plain | changes)


DAMAGES = [
    "{", "", "null", "[]", '"text"', "7", "[" * 100_000, "\ud800",
    whole(sitters=7), whole(sitters=[7]),
    whole(created=""), whole(created=None), whole(created=7), whole(keep_days="7"),
    whole(keep_days=10**12), whole(keep_days=-1), whole(day="never"), whole(day="9999-12-31"),
    whole(at=-9), whole(label=7), whole(id="b" * 12), whole(sitters=[{"frames": [{}]}]),
    whole(sitters=[{"frames": [], "wishes": {"ears": 3}}]),
    whole(sitters=[{"frames": [{"id": "0123abcd", "file": "../../x", "name": "a"}]}]),
]  # fmt: skip


# Named by their number: some tell the moment, and every process must know a test by one name.
@pytest.mark.parametrize("text", DAMAGES, ids=range(len(DAMAGES)))
def test_a_damaged_paper_is_set_aside_and_named_and_stops_nothing(shelf, tmp_path, text):
    place = tmp_path / ("a" * 12)
    place.mkdir()
    (place / "sitting.json").write_bytes(text.encode("utf-8", "surrogatepass"))
    other = shelf.new()
    fresh = Shelf(tmp_path)
    assert [sitting.id for sitting in fresh.all()] == [other.id]
    (damaged,) = fresh.damaged()
    assert f"The papers in '{place}' can't be read and are set aside" in damaged.sentence()
    assert (place / "damaged-sitting.json").exists()
    today = datetime.now().astimezone().date()
    assert fresh.erase_expired(today + timedelta(1)) == 0
    assert fresh.erase_expired(today + timedelta(8)) == 2  # the other one's day is over as well
    assert not place.exists()


def test_a_damaged_paper_that_is_opened_says_so(shelf, tmp_path):
    sitting = shelf.new()
    paper(shelf, sitting).write_text("{")
    with pytest.raises(WebError, match=f"The papers of the sitting {sitting.id} can't be read"):
        shelf._read(sitting.id)
    fresh = Shelf(tmp_path)
    with pytest.raises(WebError, match=f"The sitting {sitting.id} is not here any more"):
        fresh.open(sitting.id)
    assert [damaged.keep_until for damaged in fresh.damaged()] == [sitting.keep_until]


def test_papers_of_an_earlier_version_give_their_yes_to_the_first_sitter_alone(tmp_path):
    text = whole(consent_at=now(), consent_by="guardian", sitters=[{"frames": []}] * 2)
    first, second = from_text(text, "a" * 12).sitters
    assert (bool(first.consent_at), first.consent_by) == (True, "guardian")
    assert (second.consent_at, second.consent_by) == ("", "sitter")


def test_what_was_planned_the_evening_before_is_there_on_the_day_and_the_day_after(shelf):
    sitting = shelf.new()
    begun = sitting.begun_on
    shelf.erase_expired(begun + timedelta(1))
    assert shelf.place(sitting.id).exists()
    sitting.day = (begun + timedelta(10)).isoformat()
    shelf.erase_expired(begun + timedelta(11))
    assert shelf.place(sitting.id).exists()
    assert [s.id for s in shelf.ending(begun + timedelta(10))] == [sitting.id]
    assert shelf.ending(begun + timedelta(9)) == ()
    assert shelf.erase_expired(begun + timedelta(12)) == 1


def test_what_would_not_go_is_not_counted_and_is_tried_again(shelf, tmp_path, monkeypatch):
    sitting = shelf.new()
    frame = shelf.place(sitting.id) / "frames" / "0123abcd.jpg"
    frame.parent.mkdir()
    frame.write_bytes(b"x")
    real = Path.unlink

    def unlink(path, missing_ok=False):
        if path == frame:
            raise PermissionError(13, "in use")
        real(path, missing_ok=missing_ok)

    with monkeypatch.context() as busy:
        busy.setattr(Path, "unlink", unlink)
        assert shelf.erase_expired(sitting.keep_until + timedelta(1)) == 0
        assert f"{frame.parent.parent} could not be erased yet" in shelf.pending.sentences()[0]
        assert list(Shelf(tmp_path).all()) == []
        assert frame.exists()
        with pytest.raises(WebError, match="is not here any more"):
            Shelf(tmp_path).open(sitting.id)
    fresh = Shelf(tmp_path)
    assert fresh.pending.names() == ()
    assert list(tmp_path.iterdir()) == []


def test_what_work_under_way_makes_anew_after_an_erasure_goes_as_well(shelf, tmp_path):
    sitting = shelf.new()
    shelf.erase(sitting.id)
    late = shelf.place(sitting.id) / "drawn" / "thumb.jpg"
    late.parent.mkdir(parents=True)
    late.write_bytes(b"x")
    assert shelf.erase_again().files == 1
    assert list(tmp_path.iterdir()) == []


def test_a_frame_is_taken_off_the_table_with_its_view(shelf):
    sitting = shelf.new()
    frame = FrameNote(id="0123abcd", file="0123abcd.jpg", name="a.jpg")
    sitting.sitter.frames.append(frame)
    folder = shelf.place(sitting.id) / "frames"
    folder.mkdir()
    for name in ("0123abcd.jpg", "0123abcd.view.jpg", "other.jpg"):
        (folder / name).write_bytes(b"x")
    shelf.take_out(sitting, frame)
    assert [p.name for p in folder.iterdir()] == ["other.jpg"]
    assert sitting.sitter.frames == []


def test_moments_carry_their_zone():
    assert datetime.fromisoformat(now()).tzinfo is not None
