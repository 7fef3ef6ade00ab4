"""The main path in a real browser: talk, frames, plan, a hand on the controls, the set, the sheet.

Needs Chromium and Playwright; the frames are pictures of an invented head.
"""

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from contextlib import closing

import numpy as np
import pytest
from PIL import Image

from sitwell.base.errors import ModelError
from sitwell.face.model import model_path
from sitwell.head.surface import build_head
from sitwell.head.template import load_template
from sitwell.scene.preview import Sculpture
from sitwell.scene.setup import Setup

playwright = pytest.importorskip("playwright.sync_api")
CHROMIUM = os.environ.get("SITWELL_CHROMIUM") or shutil.which("chromium")
FLAGS = (
    "--no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync"
).split()
START = """
import sys
from pathlib import Path
from sitwell.ui.web.app import serve
if __name__ == "__main__":
    serve(port=int(sys.argv[1]), folder=Path(sys.argv[2]), show=False)
"""
LONG_MS = 150_000


def has_model():
    try:
        return model_path().exists()
    except ModelError:
        return False


pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(CHROMIUM is None, reason="needs Chromium"),
    pytest.mark.skipif(not has_model(), reason="needs the landmark model: sitwell model"),
]


@pytest.fixture(scope="module")
def frames(tmp_path_factory):
    """Three frames of an invented head: level, and turned each way."""
    folder = tmp_path_factory.mktemp("frames")
    template, random = load_template(), np.random.default_rng(5)
    shape = {
        name: float(0.5 * random.normal() * sigma)
        for name, sigma in zip(template.shape_names, template.shape_sigma, strict=True)
    }
    sculpture = Sculpture(build_head(shape))
    for name, turn_deg in (("level", 0.0), ("left", 25.0), ("right", -27.0)):
        setup = Setup(turn_deg=turn_deg, distance_mm=1800.0)
        exif = Image.Exif()
        exif.get_ifd(0x8769)[37386] = 85.0  # focal length
        exif.get_ifd(0x8769)[41989] = 85  # its 35 mm equivalent
        picture = Image.fromarray(sculpture.render(setup, 960, 1200))
        picture.save(folder / f"{name}.jpg", quality=92, exif=exif)
    return folder


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    """A real server on a free port, with its own folder."""
    folder = tmp_path_factory.mktemp("served")
    with closing(socket.socket()) as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    script = folder / "start.py"
    script.write_text(START)
    # the page tests' own marks must not reach a real server
    clean = {k: v for k, v in os.environ.items() if not k.startswith(("NICEGUI", "PYTEST"))}
    command = [sys.executable, str(script), str(port), str(folder / "papers")]
    server = subprocess.Popen(command, env=clean)
    url = f"http://127.0.0.1:{port}"
    try:
        wait_for(url)
        yield url
    finally:
        server.terminate()
        server.wait(20)


def wait_for(url):
    for _ in range(150):
        try:
            urllib.request.urlopen(url, timeout=2).close()
        except OSError:
            time.sleep(0.2)
        else:
            return
    pytest.fail(f"{url} did not open")


@pytest.fixture(scope="module")
def browser():
    with playwright.sync_playwright() as driver:
        opened = driver.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield opened
        opened.close()


@pytest.fixture(scope="module")
def sitting(browser, address, frames):
    """A sitting that has been talked through, read and planned; gives its address."""
    page = browser.new_page(viewport={"width": 1366, "height": 900})
    page.set_default_timeout(LONG_MS)
    page.goto(address)
    page.click("text=Begin a sitting")
    page.wait_for_url("**/talk")
    url = page.url.removesuffix("/talk")
    page.fill("input[type=text]", "Invented")
    page.keyboard.press("Tab")
    page.check("text=Read out, and they said yes to being measured.")
    page.click("button:has-text('Ears')")
    page.wait_for_selector("text=matters most")
    page.click("text=On to the test frames")
    files = [str(frames / f"{name}.jpg") for name in ("level", "left", "right")]
    page.set_input_files("input[type=file]", files)
    page.wait_for_selector("text=These frames are enough for a plan")
    page.click("text=On to the plan")
    page.click("button:has-text('Search the set-ups')")
    page.wait_for_selector(".hand .curve-grid")
    page.close()
    return url


@pytest.fixture
def page(browser):
    opened = browser.new_page(viewport={"width": 1366, "height": 900})
    opened.set_default_timeout(30_000)
    problems = []
    opened.on("pageerror", lambda error: problems.append(str(error)))
    opened.on("console", lambda m: problems.append(m.text) if m.type == "error" else None)
    foreign = []
    opened.on("request", lambda r: foreign.append(r.url) if "127.0.0.1" not in r.url else None)
    yield opened
    opened.close()
    assert problems == []
    assert [url for url in foreign if not url.startswith(("data:", "blob:"))] == []


def open_hand(page, sitting):
    page.goto(f"{sitting}/plan")
    page.wait_for_selector(".hand .curve-grid")


def test_a_plan_has_three_set_ups_with_gains_and_guards(page, sitting):
    open_hand(page, sitting)
    assert 1 <= page.locator(".card").count() <= 3
    assert page.locator(".card .gains li").count() >= 2


def test_a_moved_control_changes_the_view_and_survives_a_refresh(page, sitting):
    open_hand(page, sitting)
    turn = page.locator(".slider input[type=range]").first
    before = page.get_attribute(".seen img", "src")
    turn.focus()
    for _ in range(4):
        page.keyboard.press("ArrowRight")
    page.wait_for_function("(was) => document.querySelector('.seen img').src !== was", arg=before)
    said = page.locator(".slider output").first.inner_text()
    page.wait_for_timeout(800)
    page.reload()
    page.wait_for_selector(".hand .curve-grid")
    assert page.locator(".slider output").first.inner_text() == said


def test_the_key_is_dragged_by_mouse_and_by_keyboard(page, sitting):
    open_hand(page, sitting)
    page.locator(".hand").scroll_into_view_if_needed()
    key = page.locator(".plan-above .handle.key")
    said = key.get_attribute("aria-label")
    box = key.bounding_box()
    middle = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(*middle)
    page.mouse.down()
    page.mouse.move(middle[0] + 40, middle[1] - 5, steps=4)
    page.mouse.up()
    changed = "(was) => document.querySelector('.plan-above .handle.key').ariaLabel !== was"
    page.wait_for_function(changed, arg=said)
    said = key.get_attribute("aria-label")
    key.focus()
    page.keyboard.press("ArrowLeft")
    page.wait_for_function(changed, arg=said)


def test_two_tabs_work_on_the_same_papers(browser, page, sitting):
    page.goto(f"{sitting}/talk")
    other = browser.new_page()
    other.goto(f"{sitting}/talk")
    other.wait_for_selector("button:has-text('Neck')")
    page.click("button:has-text('Neck')")
    other.wait_for_selector("h2.sub:has-text('Neck')")
    page.click("button:has-text('Neck')")
    other.wait_for_selector("h2.sub:has-text('Neck')", state="detached")
    other.close()


def test_a_mark_is_laid_dragged_and_taken_away_by_keyboard(page, sitting):
    page.goto(f"{sitting}/read")
    page.click("button.feature:has-text('tip of the nose')")
    mark = page.locator(".mark")
    mark.wait_for()
    before = mark.get_attribute("aria-label")
    mark.focus()
    page.keyboard.press("Shift+ArrowDown")
    page.wait_for_function("(was) => document.querySelector('.mark').ariaLabel !== was", arg=before)
    page.locator(".mark").focus()
    page.keyboard.press("Delete")
    page.wait_for_selector(".mark", state="detached")


def test_the_words_come_one_at_a_time_and_the_sheet_is_drawn(page, sitting):
    page.goto(f"{sitting}/set")
    page.wait_for_selector("text=Settle in, tall and easy")
    page.keyboard.press("ArrowRight")
    page.wait_for_selector("text=Let your shoulders go soft and low.")
    page.wait_for_timeout(1500)
    page.click("text=Draw the discreet sheet")
    link = page.wait_for_selector("a:has-text('discreet-sheet')")
    answer = page.request.get(f"{sitting.rsplit('/s/', 1)[0]}{link.get_attribute('href')}")
    assert answer.body().startswith(b"%PDF")


def test_what_the_sitter_should_not_read_is_put_away(page, sitting):
    page.context.add_cookies([{"name": "sitwell_discreet", "value": "1", "url": sitting}])
    page.goto(f"{sitting}/set")
    page.wait_for_selector(".spoken")
    seen = page.inner_text("body").lower()
    for word in ("ears", "wish", "guard", "gain", "plan", "measure"):
        assert word not in seen
