"""Sorting on a real local cluster of worker processes."""

import os
import shutil
import signal
import sys
import warnings

import pytest

from sitwell.base.errors import SortError
from sitwell.sort.sorting import Sorting

from .sitting import make_sitting, need_model

distributed = pytest.importorskip("distributed")


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    need_model()
    made = make_sitting(tmp_path_factory.mktemp("cluster") / "card")
    sources = sorted(made.glob("D_000*"))
    for number in range(30):
        source = sources[number % len(sources)]
        shutil.copy(source, made / f"E_{number:04d}.jpg")
    return made


@pytest.fixture(scope="module")
def cluster():
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the library's own, about ports and clean-up
        with distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
        ) as running:
            yield running


@pytest.mark.filterwarnings("ignore")
def test_a_worker_killed_in_the_middle_costs_no_frame_and_none_is_recorded_twice(
    folder, tmp_path, cluster
):
    sorting = Sorting(folder, tmp_path / "i.sqlite")
    with distributed.Client(cluster, set_as_default=False) as client:
        pids = list(client.run(os.getpid).values())
    assert os.getpid() not in pids
    recorded = []
    real = sorting.index.add

    def spy(batch):
        batch = list(batch)
        recorded.extend(frame.name for _, frame in batch)
        real(batch)

    sorting.index.add = spy

    def kill_one(done, count):
        if done == 6:
            os.kill(pids[0], signal.SIGKILL)

    count = sorting.read(progress=kill_one, scheduler=cluster.scheduler_address)
    assert sorted(recorded) == sorted(p.name for p in folder.glob("*.jpg"))
    assert len(recorded) == count == 38
    assert [frame.name for frame in sorting.unread()] == ["D_0020.jpg"]
    with distributed.Client(cluster, set_as_default=False) as client:
        client.wait_for_workers(2)
        assert pids[0] not in client.run(os.getpid).values()  # it was killed indeed

    alone = Sorting(folder, tmp_path / "alone.sqlite")
    alone.read(workers=1)
    assert list(alone.index.frames()) == list(sorting.index.frames())
    alone.index.close(), sorting.index.close()


@pytest.mark.filterwarnings("ignore")
def test_a_folder_that_a_worker_does_not_see_is_refused(tmp_path, cluster, folder, monkeypatch):
    from sitwell.sort import cluster as ours

    unseen = pytest.raises(SortError, match=r"sees no folder '/no/such'; sort a folder that")
    with ours._connected(cluster.scheduler_address) as client, unseen:
        ours._ready_threads(client, ours.Path("/no/such"))


@pytest.mark.filterwarnings("ignore")
def test_a_cluster_without_workers_is_refused(folder, tmp_path):
    with distributed.LocalCluster(n_workers=0, dashboard_address=None) as empty:
        sorting = Sorting(folder, tmp_path / "i.sqlite")
        with pytest.raises(SortError, match="has no workers; start some and sort again"):
            sorting.read(scheduler=empty.scheduler_address)
        sorting.index.close()


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("address", ["tcp://127.0.0.1:1", "nonsense://x"])
def test_a_scheduler_that_does_not_answer_is_said(folder, tmp_path, address, monkeypatch):
    monkeypatch.setattr("sitwell.sort.cluster.ANSWER_S", 1)
    sorting = Sorting(folder, tmp_path / "i.sqlite")
    with pytest.raises(SortError, match=f"No Dask scheduler answers at '{address}'; give"):
        sorting.read(scheduler=address)
    sorting.index.close()


def test_without_dask_the_extra_is_named(folder, tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    sorting = Sorting(folder, tmp_path / "i.sqlite")
    with pytest.raises(SortError, match=r"needs Dask; install it with: pip install 'sitwell\[clus"):
        sorting.read(scheduler="tcp://127.0.0.1:8786")
    sorting.index.close()
