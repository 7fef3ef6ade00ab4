"""Working papers: never half written, never overwritten unseen, gone when their time is over."""

import asyncio
import json
from datetime import datetime, timedelta

import pytest

from sitwell.base.errors import WebError
from sitwell.ui.web.documents import FrameNote, Shelf, now


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
        await asyncio.sleep(0.5)
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
    week.keep_days = 7
    shelf.write(week)
    begun = datetime.now().astimezone().date()
    assert shelf.erase_expired(begun) == 0
    assert shelf.erase_expired(begun + timedelta(1)) == 1
    assert not shelf.place(today.id).exists()
    assert shelf.place(week.id).exists()
    assert shelf.erase_expired(begun + timedelta(8)) == 1


def test_wishes_without_leave_go_the_next_day(shelf):
    kept, dropped = shelf.new(), shelf.new()
    for sitting in (kept, dropped):
        sitting.keep_days = 30
        sitting.sitter.wishes["skin"] = ["soften", 1]
        shelf.write(sitting)
    kept.keep_wishes = True
    shelf.erase_expired(datetime.now().astimezone().date() + timedelta(1))
    assert kept.sitter.wishes
    assert not dropped.sitter.wishes
    assert "skin" not in paper(shelf, dropped).read_text()


def test_an_erased_sitting_is_not_written_again(shelf):
    sitting = shelf.new()
    shelf.erase(sitting.id)
    shelf.write(sitting)
    assert not shelf.place(sitting.id).exists()


@pytest.mark.parametrize("name", ["..", "a/b", "", "0123456789AB", "0123456789abc"])
def test_a_name_that_is_no_sitting_leads_nowhere(shelf, name):
    with pytest.raises(WebError, match="is not a sitting; open one from the first page"):
        shelf.place(name)


def test_a_damaged_paper_is_said_and_not_listed(shelf, tmp_path):
    sitting = shelf.new()
    paper(shelf, sitting).write_text("{")
    fresh = Shelf(tmp_path)
    with pytest.raises(WebError, match=f"The papers of the sitting {sitting.id} can't be read"):
        fresh.open(sitting.id)
    assert list(fresh.all()) == []
    assert paper(shelf, sitting).exists()


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
