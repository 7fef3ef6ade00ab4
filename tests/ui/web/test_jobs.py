"""Long work tells how far it is, stops when asked, and its troubles are said."""

import asyncio
import os
import time

import pytest
from nicegui import core

from sitwell.base.errors import HeadError, SearchStoppedError
from sitwell.ui.web.jobs import Workshop


def steps(count, pause_s, tell, stop):
    for number in range(count):
        if stop():
            raise SearchStoppedError("The search was stopped; start it again for a plan.")
        tell(number / count, f"step {number}")
        time.sleep(pause_s)
    return os.getpid()


def breaks(tell, stop):
    raise HeadError("A head can't be fitted to no frames; give one to three photographs.")


def run(test, *, inline=True):
    async def whole():
        core.loop = asyncio.get_running_loop()
        workshop = Workshop(inline=inline)
        try:
            await asyncio.wait_for(test(workshop), 60)
        finally:
            workshop.close()

    asyncio.run(whole())


async def over(job):
    heard = []
    while not job.over:
        heard.append((job.share, job.doing))
        await asyncio.sleep(0.02)
    return heard


def test_a_job_tells_how_far_it_is_and_gives_its_result():
    async def work(workshop):
        results = []
        job = workshop.start("a", results.append, steps, 6, 0.1)
        heard = await over(job)
        assert results == [os.getpid()]
        assert {doing for _, doing in heard} >= {"step 1", "step 3"}
        assert [share for share, _ in heard] == sorted(share for share, _ in heard)

    run(work)


def test_a_stopped_job_ends_soon_and_gives_nothing():
    async def work(workshop):
        results = []
        job = workshop.start("a", results.append, steps, 1000, 0.02)
        await asyncio.sleep(0.2)
        workshop.stop("a")
        began = time.monotonic()
        await over(job)
        assert time.monotonic() - began < 1.0
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
        first = workshop.start("a", print, steps, 5, 0.02)
        assert workshop.start("a", print, steps, 5, 0.02) is first
        await over(first)
        assert workshop.start("a", print, steps, 1, 0.0) is not first

    run(work)


def test_a_job_begun_after_a_stop_is_a_new_one():
    async def work(workshop):
        results = []
        first = workshop.start("a", results.append, steps, 1000, 0.02)
        workshop.stop("a")
        second = workshop.start("a", results.append, steps, 1, 0.0)
        await over(second)
        assert first.over
        assert len(results) == 1

    run(work)


@pytest.mark.slow
def test_real_work_runs_in_a_process_of_its_own_and_the_loop_stays_quick():
    async def work(workshop):
        results, longest = [], 0.0
        job = workshop.start("a", results.append, steps, 10, 0.05)
        while not job.over:
            before = time.monotonic()
            await asyncio.sleep(0.01)
            longest = max(longest, time.monotonic() - before)
        assert results[0] != os.getpid()
        assert longest < 1.0

    run(work, inline=False)
