"""Papers under the records' seal: unreadable on a stolen disk, and never in anybody's way."""

import time
from datetime import timedelta

import pytest

from sitwell.base.errors import SealError
from sitwell.store.sealed import Seal
from sitwell.store.sittings import Yes
from sitwell.ui.records_door import Door
from sitwell.ui.web.documents import REST_S, Shelf
from sitwell.ui.web.jobs import Job, Workshop
from sitwell.ui.web.locking import rest
from sitwell.ui.web.server_state import ServerState
from tests.ui.web.acting import fields, fire, text_beside

LABEL = "Zwiebelturm 7731"
WORDS = "river lamp seven onions"
FRAME = b"\xff\xd8 a known pattern of an invented frame \xff\xd9"
SEAL, OTHER = Seal(bytes(32)), Seal(bytes(31) + b"1")


def fill(shelf):
    """A sitting with a label and a file in each place."""
    sitting = shelf.new()
    sitting.label = LABEL
    shelf.write(sitting)
    place = shelf.place(sitting.id)
    for name in ("frames/0123abcd.jpg", "drawn/one.pdf", "plan-0.json", "watch-1.sqlite"):
        (place / name).parent.mkdir(exist_ok=True)
        (place / name).write_bytes(FRAME + LABEL.encode())
    return sitting


def in_clear(folder):
    """The files that show what they hold."""
    files = [path for path in folder.rglob("*") if path.is_file()]
    return sorted(
        path.name for path in files if FRAME in (c := path.read_bytes()) or b"Zwiebelturm" in c
    )


def later(monkeypatch):
    real = time.monotonic
    monkeypatch.setattr(time, "monotonic", lambda: real() + REST_S + 1)


def test_without_a_seal_papers_lie_as_before(tmp_path):
    shelf = Shelf(tmp_path)
    sitting = fill(shelf)
    shelf.put_away(sitting.id)
    assert len(in_clear(tmp_path)) == 5


def test_the_document_is_sealed_at_once_and_the_rest_when_put_away(tmp_path):
    shelf = Shelf(tmp_path, SEAL)
    sitting = fill(shelf)
    assert "sitting.json" not in in_clear(tmp_path)
    shelf.put_away(sitting.id)
    assert in_clear(tmp_path) == []
    assert (shelf.place(sitting.id) / "until").read_text() == str(sitting.keep_until)
    again = Shelf(tmp_path, SEAL)
    assert again.open(sitting.id) == sitting
    assert again.read_file(shelf.place(sitting.id) / "plan-0.json") == FRAME + LABEL.encode()
    again.lay_out(sitting.id)
    assert in_clear(tmp_path) == sorted(
        ["0123abcd.jpg", "one.pdf", "plan-0.json", "watch-1.sqlite"]
    )
    modes = {p.stat().st_mode & 0o777 for p in tmp_path.rglob("*") if p.is_file()}
    assert modes == {0o600}


def test_papers_that_were_there_before_the_seal_are_sealed_with_it(tmp_path):
    fill(Shelf(tmp_path))
    shelf = Shelf(tmp_path)
    shelf.take_seal(SEAL)
    assert in_clear(tmp_path) == []


def test_without_the_words_sealed_papers_are_locked_and_not_damaged_and_still_end(tmp_path):
    sitting = fill(Shelf(tmp_path, SEAL))
    shut = Shelf(tmp_path)
    with pytest.raises(SealError, match="are sealed; give the passphrase of the records on the"):
        shut.open(sitting.id)
    assert (list(shut.all()), shut.damaged(), shut.locked()) == ([], (), (sitting.id,))
    assert shut.erase_expired(sitting.keep_until) == 0
    assert shut.erase_expired(sitting.keep_until + timedelta(1)) == 1
    assert list(tmp_path.iterdir()) == []


def test_papers_under_another_seal_are_named_and_left_as_they_are(tmp_path):
    sitting = fill(Shelf(tmp_path, SEAL))
    paper = tmp_path / sitting.id / "sitting.json"
    before = paper.read_bytes()
    other = Shelf(tmp_path, OTHER)
    assert [damaged.id for damaged in other.damaged()] == [sitting.id]
    assert paper.read_bytes() == before
    assert Shelf(tmp_path, SEAL).open(sitting.id).label == LABEL


def test_a_sealed_file_in_another_ones_place_is_refused(tmp_path):
    shelf = Shelf(tmp_path, SEAL)
    one, two = fill(shelf), fill(shelf)
    for sitting in (one, two):
        shelf.put_away(sitting.id)
    moved = shelf.place(one.id) / "plan-0.json"
    moved.write_bytes((shelf.place(two.id) / "plan-0.json").read_bytes())
    with pytest.raises(SealError, match="was altered"):
        shelf.lay_out(one.id)


def test_only_what_nobody_works_on_is_put_away(tmp_path, monkeypatch):
    server = ServerState(shelf=Shelf(tmp_path, SEAL), workshop=Workshop(inline=True))
    idle, shown, busy = (fill(server.shelf) for _ in range(3))
    stop = server.shelf.watch(shown.id, lambda _: None)
    server.workshop.jobs[server.key(busy, "sort")] = job = Job()
    rest(server)
    assert len(in_clear(tmp_path)) == 12
    later(monkeypatch)
    rest(server)
    assert in_clear(server.shelf.place(idle.id)) == []
    assert len(in_clear(tmp_path)) == 8
    stop()
    job.over = True
    rest(server)
    assert in_clear(tmp_path) == []


def test_all_is_sealed_when_the_pages_end(tmp_path):
    server = ServerState(shelf=Shelf(tmp_path, SEAL), workshop=Workshop(inline=True))
    fill(server.shelf)
    server.close()
    assert in_clear(tmp_path) == []


@pytest.fixture
def door(papers):
    return Door(home=papers / "records", papers=papers)


def test_sealing_the_records_seals_the_papers_and_forgetting_finds_them(door, papers):
    fill(Shelf(papers))
    door.record_yes(LABEL, Yes())
    door.seal(WORDS)
    assert in_clear(papers) == []
    with pytest.raises(SealError):
        Door(home=door.home, papers=papers).forget(LABEL)
    report = Door(home=door.home, papers=papers, passphrase=WORDS).forget(LABEL)
    assert f"the papers on the table of '{LABEL}'" in "\n".join(report)
    assert list(papers.glob("*/sitting.json")) == []


def test_a_backup_of_another_seal_locks_no_papers_away(door, papers):
    door.seal(WORDS)
    backup = door.back_up(papers.parent / "drive")
    fresh = Door(home=papers.parent / "fresh", papers=papers)
    fresh.record_yes(LABEL, Yes())
    fresh.seal("another four or five words")
    sitting = fill(Shelf(papers, fresh.open_seal()))
    fresh.restore(backup, WORDS)
    now = Door(home=fresh.home, papers=papers, passphrase=WORDS)
    shelf = Shelf(papers, now.open_seal())
    assert shelf.open(sitting.id).label == LABEL


def test_the_first_page_asks_for_the_words_and_says_what_lies_in_clear(door, visit, papers):
    fill(Shelf(papers))
    door.seal(WORDS)

    async def unlock(user):
        await user.open("/")
        await user.should_see("1 sitting is sealed.")
        await user.should_see("papers written here lie in clear on this disk")
        await user.should_not_see(LABEL)
        asked = next(e for e in fields(user, "password") if "of the records" in text_beside(e))
        fire(asked, "change", "river lamp eight onions")
        await user.should_see("The passphrase does not open these records")
        fire(asked, "change", WORDS)
        await user.open("/")
        await user.should_see(LABEL)
        await user.should_not_see("in clear on this disk")

    visit(unlock)
    assert in_clear(papers) == []
