import asyncio
import json
import sys
from collections.abc import Awaitable, Callable
from pathlib import Path

import pytest
from nicegui.testing import User, user_simulation

from builders.docs.web_stage import (
    CHROMIUM,
    FLAGS,
    LONG_MS,
    prepare_sitting,
    serving,
)
from sitwell.ui.web.example_sitting import draw_frames
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
            await user.should_see("Before anything is measured")
            say_yes(user)
            await test(user.http_client, user.back_history[-1].split("/")[-2])

        visit(whole)

    return run


@pytest.fixture(scope="module")
def served(tmp_path_factory):
    """The folder of a real server."""
    return tmp_path_factory.mktemp("served")


@pytest.fixture(scope="module")
def address(served):
    """A real server on a free port, with its own folder."""
    with serving(served, "short") as url:
        yield url


@pytest.fixture
def in_hand(served, sitting):
    """What the sitting's paper says was moved by hand, of the set-up that is open."""

    def read():
        paper = served / "papers" / sitting.rsplit("/", 1)[1] / "sitting.json"
        sitter = json.loads(paper.read_text())["sitters"][0]
        return next(iter(sitter["moved"].values()), {})

    return read


@pytest.fixture(scope="module")
def driver():
    from playwright.sync_api import sync_playwright

    with sync_playwright() as made:
        yield made


@pytest.fixture(scope="module")
def browser(driver):
    opened = driver.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
    yield opened
    opened.close()


@pytest.fixture(scope="module")
def sitting(browser, address, tmp_path_factory):
    """A sitting that has been talked through, read and planned; gives its address."""
    return prepare_sitting(browser, address, draw_frames(tmp_path_factory.mktemp("frames")))


@pytest.fixture
def page(browser):
    opened = browser.new_page(viewport={"width": 1366, "height": 900})
    opened.set_default_timeout(LONG_MS)
    problems = []
    opened.on("pageerror", lambda error: problems.append(str(error)))
    opened.on("console", lambda m: problems.append(m.text) if m.type == "error" else None)
    foreign = []
    opened.on("request", lambda r: foreign.append(r.url) if "127.0.0.1" not in r.url else None)
    yield opened
    opened.close()
    assert problems == []
    assert [url for url in foreign if not url.startswith(("data:", "blob:"))] == []
