"""Draw the pictures of the pages in docs/pictures, from an invented sitting in headless Chromium.

Run from the repository: ``python -m builders.docs.draw_screens``. Needs Chromium and Playwright.
"""

import tempfile
from pathlib import Path
from typing import Any

from playwright.sync_api import sync_playwright

from builders.docs.web_stage import (
    CHROMIUM,
    FLAGS,
    LONG_MS,
    camera_flags,
    draw_burst,
    draw_clip,
    prepare_couple,
    prepare_sitting,
    serving,
)
from sitwell.ui.web.example_sitting import draw_frames

PICTURES = Path(__file__).resolve().parents[2] / "docs" / "pictures"
SIZES = {"phone": (390, 844), "tablet": (820, 1180), "laptop": (1366, 900)}
# What is drawn: the page, the size, the tone, the language; the whole page or its first screen.
DRAWN = (
    ("talk", "laptop", "day", "en"),
    ("talk", "phone", "dark", "de"),
    ("read", "laptop", "day", "en"),
    ("read", "tablet", "dark", "en"),
    ("plan", "laptop", "day", "en"),
    ("hand", "laptop", "dark", "en"),
    ("hand", "tablet", "day", "en"),
    ("hand", "phone", "dark", "en"),
    ("set", "laptop", "day", "en"),
    ("discreet", "tablet", "dark", "en"),
    ("kit", "laptop", "day", "en"),
    ("atlas", "laptop", "day", "en"),
    ("plan", "phone", "dark", "en"),
    ("set", "phone", "day", "de"),
)


def main() -> None:
    """Start a server, make the sitting, draw every picture."""
    PICTURES.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as name, sync_playwright() as driver:
        folder = Path(name)
        with serving(folder) as url:
            browser = driver.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
            sitting = prepare_sitting(browser, url, draw_frames(folder))
            for page, size, tone, language in DRAWN:
                draw(browser, sitting, page, size, tone, language)
            draw_comparison(browser, sitting, folder / "burst")
            draw_together(browser, url, folder)
            browser.close()
            clip = draw_clip(folder / "still.mjpeg", turn_deg=0.0)
            seeing = driver.chromium.launch(
                executable_path=CHROMIUM, args=[*FLAGS, *camera_flags(clip)]
            )
            draw_practice(seeing, sitting)
            seeing.close()


def draw(browser: Any, sitting: str, page: str, size: str, tone: str, language: str) -> None:
    """One picture; "hand" is the lower part of the plan, "discreet" the set as a sitter sees it."""
    width, height = SIZES[size]
    context = browser.new_context(viewport={"width": width, "height": height})
    cookies = {
        "sitwell_tone": tone,
        "sitwell_language": language,
        "sitwell_discreet": "1" if page == "discreet" else "0",
    }
    context.add_cookies([{"name": n, "value": v, "url": sitting} for n, v in cookies.items()])
    opened = context.new_page()
    address = {"hand": "plan", "discreet": "set"}.get(page, page)
    opened.goto(f"{sitting}/{address}")
    opened.wait_for_selector(".hand .curve-grid" if address == "plan" else "#work p")
    if address == "plan":
        opened.wait_for_selector("text=Made from your frames", timeout=LONG_MS)
    if page == "atlas":
        opened.wait_for_selector(".cell", timeout=LONG_MS)
        full = "() => [...document.querySelectorAll('.cell img')].every((e) => e.src)"
        opened.wait_for_function(full, timeout=LONG_MS)
    if page == "hand":
        opened.evaluate("document.querySelector('.hand').scrollIntoView()")
    opened.wait_for_timeout(1500)
    opened.screenshot(path=PICTURES / f"web-{page}-{size}-{tone}.png")
    context.close()


def draw_comparison(browser: Any, sitting: str, burst: Path) -> None:
    """Two frames of a burst at the eyes, on the Sort page."""
    draw_burst(burst)
    page = day_page(browser, sitting)
    page.goto(f"{sitting}/sort")
    page.fill("input[type=text]", str(burst))
    page.keyboard.press("Tab")
    page.click("button:has-text('Sort the folder')")
    page.click("text=Compare two at the eyes")
    page.wait_for_function("document.querySelectorAll('.pair-pane img').length === 2")
    page.evaluate("document.querySelector('.compare').scrollIntoView()")
    shoot(page, "web-compare-laptop-day.png")


def draw_together(browser: Any, url: str, folder: Path) -> None:
    """A couple on the Plan page."""
    frames = []
    for seed, name in enumerate(("first", "second"), start=5):
        (folder / name).mkdir()
        frames.append(draw_frames(folder / name, seed))
    couple = prepare_couple(browser, url, frames)
    page = day_page(browser, couple)
    page.goto(f"{couple}/plan")
    page.wait_for_selector(".hand .curve-grid")
    page.wait_for_selector("text=Made from your frames")
    shoot(page, "web-together-laptop-day.png")


def draw_practice(browser: Any, sitting: str) -> None:
    """The practice camera on the Shoot page."""
    page = day_page(browser, sitting)
    page.goto(f"{sitting}/shoot")
    page.click("text=Start the camera")
    page.wait_for_selector(".practice .spoken:has-text('shoulder')")
    page.evaluate("document.querySelector('.practice').scrollIntoView({block: 'end'})")
    # where the frames of this machine land is nobody's business
    page.evaluate("document.querySelector('input[type=text]').value = ''")
    shoot(page, "web-practice-laptop-day.png")


def day_page(browser: Any, sitting: str) -> Any:
    """A laptop's page by day, in English."""
    width, height = SIZES["laptop"]
    context = browser.new_context(viewport={"width": width, "height": height})
    context.add_cookies([{"name": "sitwell_tone", "value": "day", "url": sitting}])
    page = context.new_page()
    page.set_default_timeout(LONG_MS)
    return page


def shoot(page: Any, name: str) -> None:
    """The first screen as a picture, when it has come to rest."""
    page.wait_for_timeout(2500)
    page.screenshot(path=PICTURES / name)
    page.context.close()


if __name__ == "__main__":
    main()
