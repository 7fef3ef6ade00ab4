"""What a page sends for: a bar with a word and Stop while it goes, then what was made."""

import asyncio
import threading

import pytest
from nicegui import ui
from nicegui.testing import User

from sitwell.base.errors import SearchStoppedError, SheetError
from sitwell.ui.web.jobs import Workshop
from sitwell.ui.web.page_jobs import PageJobs
from sitwell.ui.web.parts import button


class Errand:
    """Work that waits to be let go, and can be stopped."""

    def __init__(self):
        self.go = threading.Event()

    def __call__(self, what, tell, stop):
        tell(0.5, "drawing the pictures")
        while not self.go.wait(0.02):
            if stop():
                raise SearchStoppedError("Drawing was stopped; ask for the sheet again.")
        if what == "broken":
            raise SheetError("The sheet can't be written there.")
        return f"here is {what}"


@pytest.fixture
def errand():
    return Errand()


@pytest.fixture
def page(visit, errand):
    """Run a coroutine as a user of a page with one errand."""

    def run(test):
        async def whole(user: User) -> None:
            workshop = Workshop(inline=True)

            @ui.page("/errand")
            def content() -> None:
                page_jobs = PageJobs(workshop, "x/0", {"sheet": lambda text: ui.label(text)})
                for what in ("a sheet", "broken"):
                    button(f"send for {what}", lambda w=what: page_jobs.send("sheet", errand, w))

            await user.open("/errand")
            try:
                await test(user)
            finally:
                errand.go.set()
                await asyncio.to_thread(workshop.close)

        visit(whole)

    return run


def test_it_tells_what_is_done_and_shows_what_was_made(page, errand):
    async def send(user):
        user.find("send for a sheet").click()
        await user.should_see("drawing the pictures, ")
        await user.should_see("Stop")
        errand.go.set()
        await user.should_see("here is a sheet")
        await user.should_not_see("drawing the pictures, ")

    page(send)


def test_it_can_be_stopped(page):
    async def send(user):
        user.find("send for a sheet").click()
        await user.should_see("drawing the pictures, ")
        user.find("Stop").click()
        await user.should_see("Stopped.")
        await user.should_not_see("here is a sheet")

    page(send)


def test_what_went_wrong_is_said(page, errand):
    async def send(user):
        errand.go.set()
        user.find("send for broken").click()
        await user.should_see("The sheet can't be written there.")

    page(send)


def test_a_page_opened_anew_finds_what_still_runs_and_not_what_is_over(page, errand):
    async def send(user):
        user.find("send for a sheet").click()
        await user.should_see("drawing the pictures, ")
        await user.open("/errand")
        await user.should_see("drawing the pictures, ")
        errand.go.set()
        await user.should_see("here is a sheet")
        await user.open("/errand")
        await user.should_not_see("here is a sheet")

    page(send)
