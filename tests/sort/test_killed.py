"""Sorting and rating, killed outright at random moments: nothing lost, nothing half written."""

import os
import random
import signal
import subprocess
import sys
import time

import pytest

from sitwell.sort.index import Index
from sitwell.sort.packet import empty_packet, read_packet
from sitwell.sort.sorting import Sorting
from sitwell.sort.xmp import sweep
from tests.waiting import until

from .sitting import make_sitting, need_model

KILLS = int(os.environ.get("SITWELL_KILLS", "10"))
NEW_EACH_ROUND = 60

# One process with everything loaded; for each line that it is sent it forks a child that sorts
# and rates, and says the child's number. Reading is made up, because it is not what is tried here.
SORTER = """
import os, sys, time
from pathlib import Path
from sitwell.shoot.frame_facts import Sight
from sitwell.sort import sorting as module
from sitwell.sort.handover import rate
from sitwell.sort.index import ReadFrame

def read_all(tasks, held, workers):
    for task in tasks:
        time.sleep(0.002)
        number = int(task.name[2:7])
        eye = {"own_left": 0.3 if number % 3 == 1 else 0.28, "own_right": 0.3}
        yield task, ReadFrame(
            name=task.name, master=task.name, stamp=task.stamp,
            taken_s=number // 3 * 60.0 + number % 3, look=bytes(range(256)),
            sights=(Sight(faces=1, eye_open=eye, focus={"near_eye": 1.0 + (number % 3 == 1)}),))

module.read_all = read_all
folder, index = map(Path, sys.argv[1:])
for line in sys.stdin:
    child = os.fork()
    if child == 0:
        sorting = module.Sorting(folder, index)
        sorting.read(workers=1)
        list(rate(sorting, ("put forward",)))
        os._exit(0)
    print(child, flush=True)
    os.waitpid(child, 0)
    print("over", flush=True)
"""


@pytest.fixture
def card(tmp_path):
    folder = tmp_path / "card"
    folder.mkdir()
    return folder


def add_frames(folder, first, count):
    for number in range(first, first + count):
        (folder / f"D_{number:05d}.jpg").write_bytes(b"%d" % number)
        if number % 7 == 1:  # somebody else wrote a sidecar before
            theirs = empty_packet().replace(b"\n </", b"<!-- theirs %d --></" % number)
            (folder / f"D_{number:05d}.xmp").write_bytes(theirs)


def check_sidecars(folder):
    for path in folder.glob("D_*.xmp"):
        data = path.read_bytes()
        says = read_packet(data)  # whole, or it would be refused
        assert (says.rating, says.our_rating) in ((None, None), (3.0, 3.0), (0.0, 0.0))
        number = int(path.stem[2:])
        assert number % 7 != 1 or b"<!-- theirs %d -->" % number in data


def test_no_frame_is_lost_or_read_twice_and_no_sidecar_is_half_written(card, tmp_path):
    dice = random.Random(11)
    index = tmp_path / "state" / "i.sqlite"
    command = [sys.executable, "-c", SORTER, str(card), str(index)]
    count, cut_off = 0, 0
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as sorter:

        def begin():
            sorter.stdin.write("go\n")
            sorter.stdin.flush()
            return int(sorter.stdout.readline())

        for _ in range(10 * KILLS):
            if cut_off == KILLS:
                break
            add_frames(card, count, NEW_EACH_ROUND)
            count += NEW_EACH_ROUND
            child = begin()
            time.sleep(dice.uniform(0.0, 0.6))
            try:
                os.kill(child, signal.SIGKILL)
                cut_off += 1
            except ProcessLookupError:
                pass  # it had just ended
            assert sorter.stdout.readline() == "over\n"
            check_sidecars(card)
        begin()
        assert sorter.stdout.readline() == "over\n"
        sorter.stdin.close()
    assert cut_off == KILLS
    check_sidecars(card)
    sorting = Sorting(card, index)
    sorting.read(workers=1)
    assert sorted(f.name for f in sorting.index.frames()) == [
        f"D_{number:05d}.jpg" for number in range(count)
    ]
    forward = [burst.best.file for burst in sorting.bursts()]
    sorting.index.close()
    rated = sorted(
        path.stem for path in card.glob("D_*.xmp") if read_packet(path.read_bytes()).rating == 3
    )
    assert rated == sorted(name.removesuffix(".jpg") for name in forward)
    sweep(card, older_than_s=0.0)  # a kill may leave a hidden temporary file, swept later
    assert list(card.glob(".*")) == []
    assert [(card / f"D_{n:05d}.jpg").read_bytes() for n in range(count)] == [
        b"%d" % n for n in range(count)
    ]


REAL = """
import sys
from pathlib import Path
from sitwell.sort.reading import read_all
from sitwell.sort import sorting as module
module._workers = lambda asked, tasks: 2
if __name__ == "__main__":
    folder, index = map(Path, sys.argv[1:])
    module.Sorting(folder, index).read(progress=lambda done, count: print(done, flush=True))
"""


def test_a_killed_sort_leaves_no_worker_behind_and_goes_on(tmp_path):
    need_model()
    folder = make_sitting(tmp_path / "card")
    script = tmp_path / "sort_it.py"
    script.write_text(REAL)
    command = [sys.executable, str(script), str(folder), str(tmp_path / "i.sqlite")]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as sorter:
        assert sorter.stdout.readline() == "1\n"
        workers = children_of(sorter.pid)
        assert len(workers) >= 2
        sorter.kill()
    until(lambda: not any(alive(pid) for pid in workers))
    Index(tmp_path / "i.sqlite", "").close()  # whole
    sorting = Sorting(folder, tmp_path / "i.sqlite")
    assert sorting.read(workers=1) == 8
    assert len(list(sorting.index.frames())) == 7
    sorting.index.close()


def children_of(pid):
    with open(f"/proc/{pid}/task/{pid}/children") as stream:  # noqa: PTH123
        return [int(child) for child in stream.read().split()]


def alive(pid):
    try:
        with open(f"/proc/{pid}/stat") as stream:  # noqa: PTH123
            return stream.read().rpartition(")")[2].split()[0] != "Z"
    except FileNotFoundError:
        return False
