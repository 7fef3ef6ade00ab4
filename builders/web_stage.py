"""A server with an invented sitting in a real browser, for pictures, measurements and tests.

The sitter is a made-up head, photographed by our own renderer; it is nobody. Needs Chromium and
Playwright.
"""

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from sitwell.head.surface import build_head
from sitwell.head.template import load_template
from sitwell.scene.preview import Sculpture
from sitwell.scene.setup import Setup

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
FRAMES = (("level", 0.0), ("own_left", 25.0), ("own_right", -27.0))
LONG_MS = 150_000
_START = """
import sys
from pathlib import Path
from sitwell.ui.web.app import serve
if __name__ == "__main__":
    serve(port=int(sys.argv[1]), folder=Path(sys.argv[2]), show=False)
"""


def draw_frames(folder: Path, seed: int = 5) -> list[Path]:
    """Three frames of an invented head: level, and turned each way, with their EXIF."""
    template, random = load_template(), np.random.default_rng(seed)
    shape = {
        name: float(0.5 * random.normal() * sigma)
        for name, sigma in zip(template.shape_names, template.shape_sigma, strict=True)
    }
    sculpture = Sculpture(build_head(shape))
    files = []
    for name, turn_deg in FRAMES:
        setup = Setup(turn_deg=turn_deg, distance_mm=1800.0)
        exif = Image.Exif()
        exif.get_ifd(0x8769)[37386] = setup.focal_mm
        exif.get_ifd(0x8769)[41989] = round(setup.focal_mm)  # its 35 mm equivalent
        files.append(folder / f"{name}.jpg")
        picture = Image.fromarray(sculpture.render(setup, 960, 1200))
        picture.save(files[-1], quality=92, exif=exif)
    return files


@contextmanager
def serving(folder: Path) -> Iterator[str]:
    """A real server on a free port with its own folder; gives its address."""
    with closing(socket.socket()) as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    script = folder / "start.py"
    script.write_text(_START)
    # marks of a test run must not reach a real server
    clean = {k: v for k, v in os.environ.items() if not k.startswith(("NICEGUI", "PYTEST"))}
    server = subprocess.Popen(
        [sys.executable, str(script), str(port), str(folder / "papers")], env=clean
    )
    try:
        _wait_for(f"http://127.0.0.1:{port}")
        yield f"http://127.0.0.1:{port}"
    finally:
        server.terminate()
        server.wait(20)


def _wait_for(url: str) -> None:
    for _ in range(150):
        try:
            urllib.request.urlopen(url, timeout=2).close()
            return
        except OSError:
            time.sleep(0.2)
    raise TimeoutError(f"{url} did not open in 30 s; look at what the server printed.")


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
