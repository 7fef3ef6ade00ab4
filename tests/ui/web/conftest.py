import asyncio
import json
import sys
from collections.abc import Awaitable, Callable
from pathlib import Path

import pytest
from nicegui.testing import User, user_simulation

from tests.ui.web.acting import Patient, say_yes

MAIN = Path(__file__).with_name("main.py")
Visit = Callable[[User], Awaitable[None]]


@pytest.fixture
def papers(tmp_path, monkeypatch):
    """The folder of working papers that the app under test uses."""
    monkeypatch.setenv("SITWELL_TEST_PAPERS", str(tmp_path / "papers"))
    return tmp_path / "papers"


@pytest.fixture
def visit(papers):
    """Run a coroutine as a user of the pages, without a browser."""

    def run(test: Visit) -> None:
        asyncio.run(_as_user(test))

    return run


async def _as_user(test: Visit) -> None:
    """A failure is kept until the pages have been closed: the framework leaves them open else.

    It also takes the pages' modules out of the process, which other tests still stand on.
    """
    failure, modules = None, dict(sys.modules)
    async with user_simulation(main_file=MAIN) as user:
        try:
            await test(Patient(user.http_client))
        except BaseException as error:
            failure = error
    sys.modules.update(modules)
    if failure is not None:
        raise failure


@pytest.fixture
def paper(papers):
    """The one sitting's document as it lies on the disk."""

    def read() -> dict:
        (path,) = papers.glob("*/sitting.json")
        return json.loads(path.read_text(encoding="utf-8"))

    return read


@pytest.fixture
def landing(visit):
    """Run a coroutine with an HTTP client and the id of a fresh sitting, leave given."""

    def run(test) -> None:
        async def whole(user: User) -> None:
            await user.open("/")
            user.find("Begin a sitting").click()
            await user.should_see("Leave, before anything is measured")
            say_yes(user)
            await test(user.http_client, user.back_history[-1].split("/")[-2])

        visit(whole)

    return run
