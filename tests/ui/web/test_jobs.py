"""Long work tells how far it is, stops when asked, and its troubles are said."""

import asyncio
import os
import threading
from functools import partial
from pathlib import Path

import pytest
from nicegui import core

from sitwell.base.errors import HeadError, SearchStoppedError
from sitwell.ui.web.jobs import Job, Workshop
from tests.waiting import soon, until


def steps(goes_on, tell, stop):
    """Work that tells of a step and goes on when ``goes_on(step)`` says so; three steps."""
    for number in range(3):
        tell(number / 3, f"step {number}")
        until(lambda at=number: stop() or goes_on(at))
        if stop():
            raise SearchStoppedError("The search was stopped; start it again for a plan.")
    return os.getpid()


def at_once(number):
    return True


def never(number):
    return False


def breaks(tell, stop):
    raise HeadError("A head can't be fitted to no frames; give one to three photographs.")


def run(test, *, inline=True):
    async def whole():
        core.loop = asyncio.get_running_loop()
        workshop = Workshop(inline=inline)
        try:
            await test(workshop)
        finally:
            workshop.close()

    asyncio.run(whole())


async def over(job):
    await soon(lambda: job.over)


def test_a_job_tells_how_far_it_is_and_gives_its_result():
    async def work(workshop):
        results = []
        let_go = [threading.Event() for _ in range(3)]
        job = workshop.start("a", results.append, steps, lambda at: let_go[at].is_set())
        for number, gate in enumerate(let_go):
            await soon(lambda at=number: job.doing == f"step {at}")
            assert job.share == number / 3
            gate.set()
        await over(job)
        assert results == [os.getpid()]

    run(work)


def test_a_stopped_job_ends_and_gives_nothing():
    async def work(workshop):
        results = []
        job = workshop.start("a", results.append, steps, never)
        await soon(lambda: job.doing == "step 0")
        workshop.stop("a")
        await over(job)
        assert results == []
        assert job.trouble == ""

    run(work)


def test_a_trouble_is_said_in_its_own_words():
    async def work(workshop):
        job = workshop.start("a", print, breaks)
        await over(job)
        assert job.trouble == (
            "A head can't be fitted to no frames; give one to three photographs."
        )

    run(work)


def test_the_same_job_is_not_begun_twice():
    async def work(workshop):
        gate = threading.Event()
        first = workshop.start("a", print, steps, lambda at: gate.is_set())
        assert workshop.start("a", print, steps, at_once) is first
        gate.set()
        await over(first)
        assert workshop.start("a", print, steps, at_once) is not first

    run(work)


def test_a_job_begun_after_a_stop_is_a_new_one():
    async def work(workshop):
        results = []
        first = workshop.start("a", results.append, steps, never)
        workshop.stop("a")
        second = workshop.start("a", results.append, steps, at_once)
        await over(second)
        assert first.over
        assert len(results) == 1

    run(work)


def stands(path, number):
    return Path(path).exists()


@pytest.mark.slow
def test_real_work_runs_in_a_process_of_its_own_and_the_loop_goes_on_meanwhile(tmp_path):
    async def work(workshop):
        results, gate = [], tmp_path / "gate"
        job = workshop.start("a", results.append, steps, partial(stands, gate))
        await soon(lambda: job.doing == "step 0")
        gate.touch()  # by this loop, while the work waits for it
        await over(job)
        assert results[0] != os.getpid()

    run(work, inline=False)


def test_a_reading_does_not_wait_for_another_sitting_s_search():
    async def work(workshop):
        results = []
        search = workshop.start("one/0/plan", print, steps, never)
        await soon(lambda: search.doing == "step 0")
        await over(workshop.start("two/0/read", results.append, steps, at_once))
        assert results == [os.getpid()]
        assert not search.over
        workshop.stop("one/0/plan")
        await over(search)

    run(work)


def test_the_time_left_is_told_once_it_can_be(monkeypatch):
    job, now = Job(began=0.0), iter([1.0, 30.0, 30.0])
    monkeypatch.setattr("sitwell.ui.web.jobs.time.monotonic", lambda: next(now))
    job.share = 0.5
    assert job.seconds_left is None  # a second is no ground
    job.share = 0.75
    assert job.seconds_left == pytest.approx(10.0)
    job.share = 0.1
    assert job.seconds_left is None


def finds(goes_on, tell, stop):
    """Work that has a part of its result before it goes on."""
    tell(0.4, "walking", {"turn_deg": 19.0})
    tell(0.5, "measuring")
    until(lambda: stop() or goes_on(0))
    return None


def test_a_part_of_the_result_is_there_before_the_job_is_over():
    async def work(workshop):
        let_go = threading.Event()
        job = workshop.start("a", lambda made: None, finds, lambda at: let_go.is_set())
        await soon(lambda: job.doing == "measuring")
        assert job.found == {"turn_deg": 19.0}
        assert not job.over
        let_go.set()
        await over(job)

    run(work)
