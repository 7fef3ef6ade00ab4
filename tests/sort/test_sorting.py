import dataclasses
import os

import numpy as np
import pytest

from sitwell.base.errors import ModelError, SortError
from sitwell.head.level import head_as_dict
from sitwell.head.surface import build_head
from sitwell.scene.setup import Setup
from sitwell.search.plan import Gain, Plan, PlannedSetup
from sitwell.sheet.plan_file import save_plan
from sitwell.shoot.frames import Frame
from sitwell.shoot.journal import stamp_of
from sitwell.sort import sorting as sorting_module
from sitwell.sort.handover import rate, write_csv, write_json
from sitwell.sort.index import Index
from sitwell.sort.proof import write_proof
from sitwell.sort.reading import Held, Task, read_all
from sitwell.sort.sorting import Sorting, sort_folder, sorting_for
from sitwell.sort.xmp import write_sidecar

from .sitting import make_sitting, need_model


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    need_model()
    return make_sitting(tmp_path_factory.mktemp("sitting") / "card")


def names(burst):
    return [frame.file for frame in burst.frames]


def test_the_open_and_sharp_frame_of_each_burst_is_put_forward(folder, tmp_path):
    seen = []
    bursts = list(
        sort_folder(folder, tmp_path / "i.sqlite", workers=1, progress=lambda *n: seen.append(n))
    )
    assert [burst.best.file for burst in bursts] == ["D_0003.jpg", "D_0012.jpg"]
    assert names(bursts[0]) == ["D_0003.jpg", "D_0004.jpg", "D_0001.jpg", "D_0002.jpg"]
    assert "all eyes are open" in bursts[1].best.reason
    assert seen[-1] == (8, 8)


def test_nothing_in_the_folder_changes(folder, tmp_path):
    before = {p: (p.stat().st_mtime_ns, p.read_bytes()) for p in folder.iterdir()}
    list(sort_folder(folder, tmp_path / "i.sqlite", workers=1))
    assert {p: (p.stat().st_mtime_ns, p.read_bytes()) for p in folder.iterdir()} == before


def test_a_frame_that_cannot_be_read_is_told_of_and_ends_nothing(folder, tmp_path):
    sorting = Sorting(folder, tmp_path / "i.sqlite")
    assert sorting.read(workers=1) == 8
    (bad,) = sorting.unread()
    assert bad.name == "D_0020.jpg"
    assert "not a photograph that can be read" in bad.problem
    sorting.index.close()


def test_what_was_read_is_not_read_again(folder, tmp_path, monkeypatch):
    list(sort_folder(folder, tmp_path / "i.sqlite", workers=1))
    read = []

    def spy(tasks, held, workers):
        read.extend(task.name for task in tasks)
        return iter(())

    monkeypatch.setattr(sorting_module, "read_all", spy)
    bursts = list(sort_folder(folder, tmp_path / "i.sqlite"))
    assert read == ["D_0020.jpg"]  # what could not be read is tried again
    assert len(bursts) == 2
    other_head = Held(head=build_head(), setup=Setup())
    list(sort_folder(folder, tmp_path / "i.sqlite", held=other_head))
    assert len(read) == 1 + 8  # with a head to hold them against, all are looked at again


def test_a_stopped_sort_goes_on_where_it_was(folder, tmp_path, monkeypatch):
    monkeypatch.setattr(sorting_module, "_AT_A_TIME", 2)

    def stop(done, _):
        if done == 5:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        list(sort_folder(folder, tmp_path / "i.sqlite", workers=1, progress=stop))
    done = []
    list(
        sort_folder(folder, tmp_path / "i.sqlite", workers=1, progress=lambda d, _: done.append(d))
    )
    assert done[0] == 6  # all five were kept, the sixth is the first one read now
    assert done[-1] == 8


def copy_of(folder, place, pattern="*"):
    place.mkdir()
    for path in folder.glob(pattern):
        os.link(path, place / path.name)
    return place


def test_a_folder_that_goes_away_is_said_and_nothing_of_it_counts_as_unreadable(
    folder, tmp_path, monkeypatch
):
    monkeypatch.setattr(sorting_module, "_AT_A_TIME", 2)
    card = copy_of(folder, tmp_path / "card", "D_00[01]*")

    def unplug(done, _):
        if done == 3:
            card.rename(tmp_path / "unplugged")

    sorting = Sorting(card, tmp_path / "i.sqlite")
    with pytest.raises(SortError, match=r"'.*card' went away after 3 of 7 frames; connect it and"):
        sorting.read(workers=1, progress=unplug)
    assert list(sorting.unread()) == []
    (tmp_path / "unplugged").rename(card)
    done = []
    sorting.read(workers=1, progress=lambda d, _: done.append(d))
    assert done == [4, 5, 6, 7]
    sorting.index.close()


def test_a_frame_that_is_gone_when_its_turn_comes_is_left_out(folder, tmp_path):
    card = copy_of(folder, tmp_path / "card", "D_001*")
    sorting = Sorting(card, tmp_path / "i.sqlite")
    sorting.read(workers=1, progress=lambda d, _: (card / "D_0013.jpg").unlink(missing_ok=True))
    assert [f.name for f in sorting.index.frames()] == ["D_0011.jpg", "D_0012.jpg"]
    assert list(sorting.unread()) == []
    sorting.index.close()


def test_without_the_landmark_model_nothing_is_recorded_as_unreadable(
    folder, tmp_path, monkeypatch
):
    def missing(*_, **__):
        raise ModelError("The landmark model is not here; bring it with: sitwell model.")

    sorting = Sorting(folder, tmp_path / "i.sqlite")
    with monkeypatch.context() as patched:
        patched.setattr("sitwell.sort.reading.find_faces", missing)
        with pytest.raises(ModelError, match="sitwell model"):
            sorting.read(workers=1)
    assert list(sorting.unread()) == []
    sorting.index.close()


def test_a_full_disk_is_said_and_the_sort_goes_on_when_there_is_room(folder, tmp_path):
    sorting = Sorting(folder, tmp_path / "i.sqlite")
    database = sorting.index._database
    pages = database.execute("PRAGMA page_count").fetchone()[0]
    database.execute(f"PRAGMA max_page_count = {pages}")  # SQLite then says that the disk is full
    with pytest.raises(
        SortError, match=r"index .*i\.sqlite can't be written \(.*full\); make room"
    ):
        sorting.read(workers=1)
    database.execute("PRAGMA max_page_count = 1000000")
    assert sorting.read(workers=1) == 8
    assert len(list(sorting.bursts())) == 2
    sorting.index.close()


@pytest.mark.parametrize(
    "name", [b"caf\xe9.jpg", b"new\nline.jpg", b"-rf.jpg", "\U0001f600 \u6f22.jpg".encode()]
)
def test_odd_names_are_sorted_rated_and_listed(folder, tmp_path, name):
    card = tmp_path / "card"
    card.mkdir()
    os.link(folder / "D_0012.jpg", card / os.fsdecode(name))
    sorting = Sorting(card, tmp_path / "i.sqlite")
    sorting.read(workers=1)
    (burst,) = sorting.bursts()
    assert os.fsencode(burst.best.file) == name
    (written,) = rate(sorting)
    assert os.fsencode(written.path.name) == name.replace(b".jpg", b".xmp")
    assert write_json(tmp_path / "o.json", sorting).exists()
    assert write_csv(tmp_path / "o.csv", sorting).exists()
    assert write_proof(tmp_path / "p.pdf", card, sorting.bursts(), "T", with_notes=True).exists()
    sorting.index.close()


def test_a_name_used_again_with_other_content_is_read_again(folder, tmp_path):
    card = copy_of(folder, tmp_path / "card", "D_0012.jpg")
    sorting = Sorting(card, tmp_path / "i.sqlite")
    sorting.read(workers=1)
    (card / "D_0012.jpg").unlink()
    os.link(folder / "D_0003.jpg", card / "D_0012.jpg")
    before = next(sorting.index.frames()).look
    sorting.read(workers=1)
    assert next(sorting.index.frames()).look != before
    sorting.index.close()


def test_files_that_are_gone_are_no_longer_sorted(folder, tmp_path):
    copy = tmp_path / "copy"
    copy.mkdir()
    for path in folder.glob("D_001*"):
        os.link(path, copy / path.name)
    assert len(list(sort_folder(copy, tmp_path / "i.sqlite", workers=1))) == 1
    (copy / "D_0012.jpg").unlink()
    (burst,) = sort_folder(copy, tmp_path / "i.sqlite", workers=1)
    assert names(burst) == ["D_0011.jpg", "D_0013.jpg"]


def test_a_persons_choice_and_rating_win_and_are_remembered(folder, tmp_path):
    copy = tmp_path / "copy"
    copy.mkdir()
    for path in folder.glob("D_001*"):
        os.link(path, copy / path.name)
    sorting = Sorting(copy, tmp_path / "i.sqlite")
    sorting.read(workers=1)
    sorting.index.choose("D_0011.jpg", 1.0)
    sorting.index.close()
    (burst,) = sort_folder(copy, tmp_path / "i.sqlite")
    assert burst.best.file == "D_0011.jpg"
    assert burst.best.reason == "Chosen by a person."
    write_sidecar(copy / "D_0013.jpg", 5, person=True)
    sidecar = copy / "D_0013.xmp"
    sidecar.write_bytes(sidecar.read_bytes().replace(b"sitwell:xmp:1", b"other:xmp:1"))
    (burst,) = sort_folder(copy, tmp_path / "i.sqlite")
    assert names(burst)[:2] == ["D_0013.jpg", "D_0011.jpg"]


def test_with_a_head_the_moves_are_there(folder, tmp_path):
    sorting = Sorting(
        folder, tmp_path / "i.sqlite", held=Held(head=build_head(), setup=Setup(turn_deg=25.0))
    )
    sorting.read(workers=1)
    turns = {f.name: f.sights[0].moves["turn_deg"] for f in sorting.index.frames() if f.sights}
    assert turns["D_0012.jpg"] == pytest.approx(25.0, abs=5.0)
    assert turns["D_0003.jpg"] == pytest.approx(0.0, abs=5.0)
    sorting.index.close()


def test_a_plan_file_gives_the_head_and_what_to_hold_frames_against(folder, tmp_path):
    planned = PlannedSetup(
        name="balanced",
        setup=Setup(turn_deg=25.0),
        measures={},
        gains=(Gain(wish="ears", measure="ear_show_own_right", was=0.1, becomes=0.0, gain=1.0),),
        guards=(),
        leeway=(),
        reasons=(),
    )
    plan = Plan(baseline=Setup(), baseline_measures={}, setups=(planned,), conflicts=())
    path = save_plan(tmp_path / "plan.json", plan, head_as_dict(build_head(), np.eye(3)))
    sorting = sorting_for(folder, tmp_path / "state", path)
    sorting.read(workers=1)
    straight, turned = sorting.bursts()
    assert any("what was wished for is kept" in f for f in straight.frames[0].findings)
    assert not any("what was wished for" in f for f in turned.frames[0].findings)
    sorting.index.close()
    assert [p.name[:5] for p in (tmp_path / "state").glob("*.sqlite")] == ["sort-"]


def test_several_workers_give_what_one_gives(folder, tmp_path, monkeypatch):
    monkeypatch.delenv("OPENBLAS_NUM_THREADS", raising=False)
    one = [b.as_dict() for b in sort_folder(folder, tmp_path / "1.sqlite", workers=1)]
    # few frames are not worth starting others, so they are asked for here
    tasks = [
        Task(place=i, name=p.name, frame=Frame(path=p), stamp=stamp_of(p))
        for i, p in enumerate(sorted(folder.iterdir()))
    ]
    two = {read.name: read for _, read in read_all(tasks, None, workers=2)}
    alone = {read.name: read for _, read in read_all(tasks, None, workers=1)}
    assert len(one) == 2
    assert two == alone
    assert "OPENBLAS_NUM_THREADS" not in os.environ  # set for the workers only


def test_a_frame_that_kills_its_worker_is_found_out(folder, tmp_path, monkeypatch):
    good = sorted(folder.glob("D_000*"))
    tasks = [
        Task(place=i, name=p.name, frame=Frame(path=p), stamp=stamp_of(p))
        for i, p in enumerate(good)
    ]
    killer = dataclasses.replace(tasks[1], frame=_Killer(path=good[1]))
    tasks[1] = killer
    read = {r.name: r for _, r in read_all(tasks, None, workers=2)}
    assert len(read) == len(tasks)
    assert "made the reader stop; look at it" in read[killer.name].problem
    assert [n for n, r in read.items() if r.problem] == [killer.name]


class _Killer(Frame):
    """A frame that ends whichever other process unpacks it."""

    def __reduce__(self):
        return os._exit, (1,)


def test_a_missing_folder_and_a_broken_index_are_refused(tmp_path):
    with pytest.raises(SortError, match=r"no folder '.*gone' to sort; check the name"):
        Sorting(tmp_path / "gone", tmp_path / "i.sqlite")
    (tmp_path / "bad.sqlite").write_bytes(b"no database at all" * 100)
    with pytest.raises(
        SortError, match=r"index .*bad\.sqlite can't be used .* read the folder anew"
    ):
        Index(tmp_path / "bad.sqlite", "")
