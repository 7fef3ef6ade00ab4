import os
import random
import signal
import subprocess
import sys
import threading
import time
from contextlib import closing, contextmanager
from pathlib import Path

import numpy as np
import pytest
import watchfiles
from PIL import Image

from sitwell.base.errors import ShootError
from sitwell.shoot import watch as watch_module
from sitwell.shoot.journal import Journal, journal_path
from sitwell.shoot.watch import Watch, list_photos
from tests.waiting import until

KILLS = int(os.environ.get("SITWELL_KILLS", "10"))
STEADY_S = 0.15


def picture(path, seed=0, second=0, side=96):
    """A grainy invented picture with its own content and time."""
    rng = np.random.default_rng(seed)
    image = Image.fromarray(rng.integers(0, 255, (side, side, 3), dtype=np.uint8))
    exif = Image.Exif()
    exif.get_ifd(0x8769)[36867] = f"2026:01:01 10:{second // 60:02d}:{second % 60:02d}"
    path.parent.mkdir(parents=True, exist_ok=True)
    image.save(path, "JPEG", exif=exif)
    return path


@pytest.fixture
def studio(tmp_path):
    return Studio(tmp_path / "card", tmp_path / "state" / "journal.sqlite")


class Studio:
    """A folder and its journal, watched by a thread."""

    def __init__(self, folder, journal):
        self.folder, self.journal = folder, journal
        folder.mkdir()
        self.arrivals = []

    @contextmanager
    def watched(self, **options):
        stop = threading.Event()

        def work():
            journal = Journal(self.journal, self.folder)
            options.setdefault("steady_s", STEADY_S)
            watch = Watch(self.folder, journal, **options)
            for arrival in watch.arrivals(stop):
                self.arrivals.append(arrival)
                watch.done(arrival, f"report on {arrival.frame.path.name}")
            journal.close()

        thread = threading.Thread(target=work)
        thread.start()
        try:
            yield
        finally:
            stop.set()
            thread.join()

    def wait(self, count):
        until(lambda: len(self.arrivals) >= count)
        time.sleep(3 * STEADY_S)  # none more may follow
        return [a.frame.path.name for a in self.arrivals]


def test_what_is_there_comes_in_the_order_of_exposure_and_what_lands_follows(studio):
    for name, second in (("b.jpg", 1), ("a.jpg", 2), ("c.jpg", 0)):
        picture(studio.folder / name, seed=second, second=second)
    with studio.watched():
        assert studio.wait(3) == ["c.jpg", "b.jpg", "a.jpg"]
        picture(studio.folder / "sub" / "d.jpg", seed=9, second=9)
        assert studio.wait(4)[3:] == ["d.jpg"]


def test_a_file_is_given_only_when_all_of_it_is_there(studio, tmp_path):
    data = picture(tmp_path / "source.jpg", seed=1).read_bytes()
    with studio.watched(give_up_s=60):
        path = studio.folder / "slow.jpg"
        with path.open("wb") as stream:
            for part in range(4):
                stream.write(data[part * len(data) // 4 : (part + 1) * len(data) // 4])
                stream.flush()
                time.sleep(3 * STEADY_S)  # a pause longer than the time of standing still
                assert part == 3 or studio.arrivals == []
        assert studio.wait(1) == ["slow.jpg"]


def test_a_whole_jpeg_comes_at_once_and_one_with_more_to_follow_waits(studio, tmp_path):
    data = picture(tmp_path / "source.jpg", seed=1).read_bytes()
    (studio.folder / "whole.jpg").write_bytes(data)
    (studio.folder / "more.jpg").write_bytes(data + b"\0" * 10)
    with studio.watched(steady_s=1e6):  # as good as never
        assert studio.wait(1) == ["whole.jpg"]
    with studio.watched():
        assert studio.wait(2)[1:] == ["more.jpg"]


def test_a_file_that_stays_broken_is_told_of_and_comes_when_mended(studio, tmp_path):
    data = picture(tmp_path / "source.jpg", seed=1).read_bytes()
    path = studio.folder / "cut.jpg"
    path.write_bytes(data[:-900])
    with studio.watched(give_up_s=0.3):
        studio.wait(1)
        assert "copy it again from the card" in studio.arrivals[0].problem
        path.write_bytes(data)
        studio.wait(2)
        assert studio.arrivals[1].problem == ""


def test_a_restart_gives_only_what_is_new(studio):
    picture(studio.folder / "a.jpg", seed=1)
    with studio.watched():
        studio.wait(1)
    picture(studio.folder / "b.jpg", seed=2)
    with studio.watched():
        assert studio.wait(2) == ["a.jpg", "b.jpg"]


def test_a_name_used_again_is_a_new_frame_and_a_touched_or_moved_file_is_not(studio):
    path = picture(studio.folder / "D_9999.jpg", seed=1)
    with studio.watched():
        studio.wait(1)
        os.utime(path)
        path.rename(studio.folder / "renamed.jpg")
        assert studio.wait(1) == ["D_9999.jpg"]
        picture(path, seed=2)
        assert studio.wait(2) == ["D_9999.jpg", "D_9999.jpg"]


def test_a_master_file_that_follows_its_jpeg_is_the_same_frame(studio, tmp_path):
    picture(studio.folder / "D_1.jpg", seed=1, second=5)
    with studio.watched():
        studio.wait(1)
        # a JPEG inside, but by its name a camera's HEIF file: the reader goes by the content
        picture(tmp_path / "m.jpg", seed=2, second=5).rename(studio.folder / "D_1.heic")
        assert studio.wait(1) == ["D_1.jpg"]
        picture(tmp_path / "m.jpg", seed=3, second=50).rename(studio.folder / "D_1.heif")
        assert studio.wait(2) == ["D_1.jpg", "D_1.heif"]


@pytest.mark.parametrize(
    "name", ["ünï 漢字.JPG", "a'b\"; --.jpg", "-rf.jpg", "new\nline.jpg", "%s{x}.jpg"]
)
def test_odd_names_are_names(studio, name):
    picture(studio.folder / name, seed=1)
    with studio.watched():
        assert studio.wait(1) == [name]


def test_a_name_that_is_no_text_is_a_name(studio):
    name = os.fsdecode(b"caf\xe9.jpg")
    picture(studio.folder / name, seed=1)
    with studio.watched():
        assert studio.wait(1) == [name]
        picture(studio.folder / "b.jpg", seed=2)
        assert studio.wait(2)[1:] == ["b.jpg"]
    assert [e.name for e in Journal(studio.journal, studio.folder).entries()] == [name, "b.jpg"]


def test_hidden_files_folders_and_other_kinds_are_passed_over(studio):
    for name in (".a.jpg", ".hidden/b.jpg", "notes.txt", "c.jpg.part"):
        (studio.folder / name).parent.mkdir(exist_ok=True)
        (studio.folder / name).write_bytes(b"x")
    (studio.folder / "dir.jpg").mkdir()
    assert list(list_photos(studio.folder)) == []


def test_what_lands_in_a_hidden_folder_is_passed_over_while_watching(studio):
    with studio.watched():
        picture(studio.folder / ".trash" / "a.jpg", seed=1)
        (studio.folder / ".trash" / "b.jpg").write_bytes(b"x")
        picture(studio.folder / "new" / "c.jpg", seed=3)
        assert studio.wait(1) == ["c.jpg"]


def test_a_folder_named_from_where_one_stands_is_watched(studio, monkeypatch):
    monkeypatch.chdir(studio.folder.parent)
    picture(studio.folder / "a.jpg", seed=1)
    studio.folder = Path(studio.folder.name)
    with studio.watched():
        assert studio.wait(1) == ["a.jpg"]
        picture(studio.folder / "sub" / "b.jpg", seed=2)
        assert studio.wait(2) == ["a.jpg", "b.jpg"]
    names = [entry.name for entry in Journal(studio.journal, studio.folder).entries()]
    assert names == ["a.jpg", str(Path("sub") / "b.jpg")]


def test_a_system_that_calls_the_folder_by_another_name_is_looked_through(studio, monkeypatch):
    asked = threading.Event()

    def elsewhere(*_, stop_event, **__):
        asked.set()
        while not stop_event.is_set():
            time.sleep(0.05)
            yield {(watchfiles.Change.added, "/private/elsewhere/a.jpg")}

    monkeypatch.setattr(watchfiles, "watch", elsewhere)
    with studio.watched():
        asked.wait()
        picture(studio.folder / "a.jpg", seed=1)
        assert studio.wait(1) == ["a.jpg"]


def test_a_folder_that_goes_away_is_waited_for(studio, tmp_path):
    picture(studio.folder / "a.jpg", seed=1)
    with studio.watched():
        studio.wait(1)
        studio.folder.rename(tmp_path / "unplugged")
        time.sleep(0.5)
        picture(tmp_path / "unplugged" / "b.jpg", seed=2)
        (tmp_path / "unplugged").rename(studio.folder)
        assert studio.wait(2) == ["a.jpg", "b.jpg"]
        picture(studio.folder / "c.jpg", seed=3)
        assert studio.wait(3)[2:] == ["c.jpg"]


def test_a_clock_that_goes_back_loses_no_frame_and_repeats_none(studio):
    with studio.watched():
        for number, second in enumerate((100, 101, 5, 6, 102)):
            path = picture(studio.folder / f"D_{number}.jpg", seed=number, second=second)
            os.utime(path, (second, second))  # the computer's clock as well
            studio.wait(number + 1)
        assert studio.wait(5) == [f"D_{number}.jpg" for number in range(5)]


def test_a_full_disk_is_said_and_the_frame_comes_again_when_there_is_room(studio):
    picture(studio.folder / "a.jpg", seed=1)
    journal = Journal(studio.journal, studio.folder)
    pages = journal._database.execute("PRAGMA page_count").fetchone()[0]
    journal._database.execute(f"PRAGMA max_page_count = {pages}")  # SQLite then says it is full
    watch = Watch(studio.folder, journal, steady_s=0.0)
    report = "x" * 100_000
    arrival = next(watch.arrivals(threading.Event()))
    with pytest.raises(
        ShootError, match=r"journal .* can't be written \(.*full\); make room on its"
    ):
        watch.done(arrival, report)
    journal.close()
    with studio.watched():
        assert studio.wait(1) == ["a.jpg"]


def test_a_system_that_watches_no_more_folders_is_looked_through(studio, monkeypatch):
    def full(*_, **__):
        raise OSError("OS file watch limit reached")

    monkeypatch.setattr(watchfiles, "watch", full)
    with studio.watched():
        picture(studio.folder / "a.jpg", seed=1)
        assert studio.wait(1) == ["a.jpg"]


def test_nothing_is_written_in_the_folder(studio):
    picture(studio.folder / "a.jpg", seed=1)
    before = {p: p.stat() for p in studio.folder.rglob("*")} | {0: studio.folder.stat().st_mtime_ns}
    studio.folder.chmod(0o555)
    with studio.watched():
        assert studio.wait(1) == ["a.jpg"]
    studio.folder.chmod(0o755)
    after = {p: p.stat() for p in studio.folder.rglob("*")} | {0: studio.folder.stat().st_mtime_ns}
    assert [s if isinstance(s, int) else s.st_mtime_ns for s in before.values()] == [
        s if isinstance(s, int) else s.st_mtime_ns for s in after.values()
    ]


def test_a_missing_folder_and_a_broken_journal_are_refused(tmp_path):
    journal = Journal(tmp_path / "j.sqlite", tmp_path)
    with pytest.raises(ShootError, match=r"no folder '.*gone' to watch; check the name"):
        Watch(tmp_path / "gone", journal)
    journal.close()
    (tmp_path / "bad.sqlite").write_bytes(b"no database at all" * 100)
    with pytest.raises(ShootError, match=r"journal .*bad\.sqlite can't be used .* move it away"):
        Journal(tmp_path / "bad.sqlite", tmp_path)


def test_each_folder_has_its_own_journal(tmp_path):
    assert journal_path(tmp_path, tmp_path / "a") != journal_path(tmp_path, tmp_path / "b")
    assert journal_path(tmp_path, tmp_path / "a").parent == tmp_path


WATCHER = """
import sys, time
from pathlib import Path
from sitwell.shoot.journal import Journal
from sitwell.shoot.watch import Watch
folder, state = map(Path, sys.argv[1:])
journal = Journal(state, folder)
watch = Watch(folder, journal, steady_s=0.05)
for arrival in watch.arrivals():
    time.sleep(0.01)  # the check of the frame
    watch.done(arrival, "checked " + arrival.frame.path.name)
"""


@contextmanager
def half_landed(path, tmp_path, number):
    """A frame of which one part is there in the block, and the rest after it."""
    data = picture(tmp_path / "source.jpg", seed=number, second=number).read_bytes()
    with path.open("wb") as stream:
        stream.write(data[:2000])
        stream.flush()
        yield
        stream.write(data[2000:])


def entries(studio):
    with closing(Journal(studio.journal, studio.folder)) as journal:
        return list(journal.entries())


def test_no_frame_is_lost_and_none_recorded_twice_when_the_watcher_is_killed(studio, tmp_path):
    dice = random.Random(5)
    count = 0
    for _ in range(KILLS):
        command = [sys.executable, "-c", WATCHER, str(studio.folder), str(studio.journal)]
        before, frames = len(entries(studio)), dice.randint(3, 12)
        with subprocess.Popen(command) as watcher:
            for _ in range(frames):
                with half_landed(studio.folder / f"D_{count:04d}.jpg", tmp_path, count):
                    time.sleep(dice.uniform(0, 0.08))
                count += 1
            until(lambda at=before: len(entries(studio)) > at)  # it is at work
            with half_landed(studio.folder / f"D_{count:04d}.jpg", tmp_path, count):
                time.sleep(dice.uniform(0, 0.2))
                watcher.send_signal(signal.SIGKILL)
            count += 1
    recorded = [e.name for e in Journal(studio.journal, studio.folder).entries()]
    assert 0 < len(recorded) < count  # it was at work, and was cut off from it
    with studio.watched():
        until(lambda: len(entries(studio)) >= count)
    recorded = [e.name for e in entries(studio)]
    reports = [e.report for e in Journal(studio.journal, studio.folder).entries()]
    assert sorted(recorded) == [f"D_{n:04d}.jpg" for n in range(count)]
    assert all(
        report == f"checked {name}" or report == f"report on {name}"
        for name, report in zip(recorded, reports, strict=True)
    )


def broken(folder, count):
    """Files that begin like a JPEG or a HEIF file, with nothing to follow."""
    for number in range(count):
        start, ending = ((b"\xff\xd8\xff\xe0", "jpg"), (b"\0\0\0\x18ftypheic", "heic"))[number % 2]
        content = start + bytes(60) + str(number).encode()
        (folder / f"broken-{number:05d}.{ending}").write_bytes(content)


def test_thousands_of_broken_files_keep_no_good_frame_waiting(studio, monkeypatch):
    """One lies among them, and one lands while they are told of one by one."""
    monkeypatch.setattr(watch_module, "_TURN_S", 0.2)
    broken(studio.folder, 3000)
    picture(studio.folder / "good.jpg", seed=1)
    with studio.watched(give_up_s=0.0):
        studio.wait(100)
        assert studio.arrivals[0].frame.path.name == "good.jpg"
        picture(studio.folder / "later.jpg", seed=2)
        ends = time.monotonic() + 20
        while not any("later" in a.frame.path.name for a in studio.arrivals):
            assert time.monotonic() < ends
            time.sleep(0.02)
        assert len(studio.arrivals) < 3002  # broken ones are still to be told of


def test_what_lands_goes_before_what_waits(studio, monkeypatch):
    monkeypatch.setattr(watch_module, "_TURN_S", 0.0)
    for second in range(5):
        picture(studio.folder / f"{second}.jpg", seed=second, second=second)
    journal = Journal(studio.journal, studio.folder)
    arrivals = Watch(studio.folder, journal, steady_s=0.0).arrivals()
    seen = [next(arrivals).frame.path.name, next(arrivals).frame.path.name]
    picture(studio.folder / "9.jpg", seed=9, second=9)
    seen += [next(arrivals).frame.path.name for _ in range(4)]
    arrivals.close()
    journal.close()
    assert sorted(seen) == ["0.jpg", "1.jpg", "2.jpg", "3.jpg", "4.jpg", "9.jpg"]
    assert seen.index("9.jpg") < 5
    assert [name for name in seen if name != "9.jpg"] == [f"{n}.jpg" for n in range(5)]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes on this system")
def test_a_pipe_or_a_device_with_a_photographs_name_blocks_nothing(studio):
    os.mkfifo(studio.folder / "pipe.jpg")
    (studio.folder / "link.jpg").symlink_to(studio.folder / "pipe.jpg")
    (studio.folder / "zero.jpg").symlink_to("/dev/zero")
    picture(studio.folder / "a.jpg", seed=1)
    assert [path.name for path in list_photos(studio.folder)] == ["a.jpg"]
    with studio.watched():
        assert studio.wait(1) == ["a.jpg"]
        os.mkfifo(studio.folder / "other.jpg")
        picture(studio.folder / "b.jpg", seed=2)
        assert studio.wait(2) == ["a.jpg", "b.jpg"]
