"""A server with an invented sitting in a real browser, for pictures, measurements and tests.

The sitter is a made-up head, photographed by our own renderer; it is nobody. Needs Chromium and
Playwright.
"""

import io
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image, ImageFilter

from sitwell.head.surface import SIDES, build_head
from sitwell.scene.preview import Sculpture
from sitwell.scene.setup import Setup
from sitwell.ui.web.example_sitting import invented_shape

CHROMIUM = os.environ.get("SITWELL_CHROMIUM") or shutil.which("chromium")
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
LABEL = "Mara (invented)"
COUPLE = (("Mara", "178", "Ears"), ("Ben", "164", "Forehead"))
LONG_MS = 150_000
OPEN_AT = "Sitwell is open at "
_START = """
import sys
from pathlib import Path
from sitwell.ui.web.app import serve
from sitwell.ui.web.listening import open_encrypted, open_socket
if "short" in sys.argv:  # in the process that searches too, which begins with this file
    from sitwell.search import planner
    planner.EVALUATIONS_ALONE = 300
if __name__ == "__main__":
    encrypted = open_encrypted("", 0) if "encrypted" in sys.argv else None
    serve(open_socket("", 0, lan=False), Path(sys.argv[1]), show=False, encrypted=encrypted)
"""


def draw_two(path: Path, seeds: tuple[int, int] = (5, 6)) -> Path:
    """One frame with two invented heads of like size beside one another."""
    halves = [
        Sculpture(build_head(invented_shape(seed))).render(Setup(distance_mm=1800.0), 960, 1200)
        for seed in seeds
    ]
    Image.fromarray(np.concatenate(halves, axis=1)).save(path, quality=92)
    return path


def draw_burst(folder: Path, seed: int = 5) -> list[Path]:
    """Three frames of one burst, a third of a second apart: eyes open, closed, out of focus."""
    folder.mkdir(parents=True, exist_ok=True)
    shape, closed = invented_shape(seed), {f"eye_blink_{side}": 1.0 for side in SIDES}
    files = []
    for number, (expression, blur) in enumerate((({}, 0.0), (closed, 0.0), ({}, 4.0)), start=1):
        setup = Setup(turn_deg=9.0 + number, distance_mm=1800.0)
        picture = Image.fromarray(
            Sculpture(build_head(shape, expression)).render(setup, 960, 1200)
        ).filter(ImageFilter.GaussianBlur(blur))
        exif = Image.Exif()
        taken = exif.get_ifd(0x8769)
        taken[37386], taken[41989] = setup.focal_mm, round(setup.focal_mm)
        taken[36867], taken[37521] = "2026:03:14 10:15:00", f"{300 * number:03d}"
        files.append(folder / f"frame-{number}.jpg")
        picture.save(files[-1], quality=92, exif=exif)
    return files


def draw_clip(path: Path, turn_deg: float, seed: int = 5) -> Path:
    """A still head as a film of JPEGs, which a browser can take for its camera's picture."""
    sculpture = Sculpture(build_head(invented_shape(seed)))
    made = io.BytesIO()
    setup = Setup(turn_deg=turn_deg, distance_mm=1500.0)
    Image.fromarray(sculpture.render(setup, 640, 480)).save(made, "JPEG", quality=92)
    path.write_bytes(made.getvalue() * 30)
    return path


def camera_flags(clip: Path) -> tuple[str, ...]:
    """What lets the browser take a film for its camera, without asking."""
    return (
        "--use-fake-device-for-media-stream",
        "--use-fake-ui-for-media-stream",
        f"--use-file-for-fake-video-capture={clip}",
    )


@contextmanager
def serving(folder: Path, *how: str) -> Iterator[str]:
    """A real server on a free port with its own folder; gives its address.

    ``how`` may be "encrypted": it then lets other devices in as well, by a code; and "short": its
    searches are short, for tests that ask about the pages and not how good a plan is.
    """
    script = folder / "start.py"
    script.write_text(_START)
    # marks of a test run must not reach a real server
    clean = {k: v for k, v in os.environ.items() if not k.startswith(("NICEGUI", "PYTEST"))}
    server = subprocess.Popen(
        [sys.executable, str(script), str(folder / "papers"), *how],
        env=clean,
        stdout=subprocess.PIPE,
        text=True,
    )
    with server, ended(server):
        said = server.stdout.readline() if server.stdout else ""
        if OPEN_AT not in said:
            raise RuntimeError("The server did not open; look at what it printed.")
        yield said.partition(OPEN_AT)[2].strip()


@contextmanager
def ended(process: subprocess.Popen[str]) -> Iterator[None]:
    """End a process at the end of the block, whatever happens in it."""
    try:
        yield
    finally:
        process.terminate()
        process.wait()


def _search(page: Any) -> None:
    """Ask for the search, and once more where nothing stirs, as a person would."""
    from playwright.sync_api import TimeoutError as PlaywrightTimeoutError

    for _ in range(4):
        page.click("button:has-text('Search the set-ups')")
        try:
            page.wait_for_selector(".progress progress, .card", timeout=10_000)
            return
        except PlaywrightTimeoutError:
            print("The search did not begin; asking again.")


def prepare_sitting(browser: Any, url: str, files: list[Path]) -> str:
    """Talk, read and plan, as a person would; gives the sitting's address."""
    page = browser.new_page(viewport={"width": 1366, "height": 900})
    page.set_default_timeout(LONG_MS)
    page.goto(url)
    page.click("text=Begin a sitting")
    page.wait_for_url("**/talk")
    sitting = str(page.url).removesuffix("/talk")
    page.fill("input[type=text]", LABEL)
    page.keyboard.press("Tab")
    page.check("text=Read out, and they said yes to being measured.")
    page.click("button:has-text('Ears')")
    page.wait_for_selector("text=matters most")
    page.click("text=On to the test frames")
    page.set_input_files("input[type=file]", [str(file) for file in files])
    page.wait_for_selector("text=These frames are enough for a plan")
    page.click("text=On to the plan")
    _search(page)
    page.wait_for_selector(".hand .curve-grid")
    page.close()
    return sitting


def prepare_couple(browser: Any, url: str, files: list[list[Path]]) -> str:
    """Two sitters of different height talked through, read and planned together."""
    page = browser.new_page(viewport={"width": 1366, "height": 900})
    page.set_default_timeout(LONG_MS)
    page.goto(url)
    page.click("text=Begin a sitting")
    page.wait_for_url("**/talk")
    sitting = str(page.url).removesuffix("/talk")
    page.click("text=One more sitter")
    page.wait_for_selector("h2:has-text('Sitter 2')")
    for number, (name, height, wish) in enumerate(COUPLE):
        part = page.locator("section.sitter").nth(number)
        part.locator("input[type=text]").fill(name)
        part.locator("input[type=number]").fill(height)
        part.locator("text=Read out, and they said yes to being measured.").check()
        part.locator(f"button.feature:has-text('{wish}')").first.click()
        page.wait_for_timeout(500)
    page.click(".choices:has-text('Their difference in height') label:has-text('smaller')")
    page.wait_for_timeout(500)
    for (name, _, _), mine in zip(COUPLE, files, strict=True):
        page.goto(f"{sitting}/read")
        page.click(f"fieldset.choices label:has-text('{name}')")
        page.wait_for_timeout(1500)
        page.set_input_files("input[type=file]", [str(file) for file in mine])
        page.wait_for_selector("text=These frames are enough for a plan")
    page.goto(f"{sitting}/plan")
    page.click("button:has-text('Search for everybody'):not([disabled])")
    page.wait_for_selector(".hand .curve-grid")
    page.close()
    return sitting
