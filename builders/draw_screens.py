"""Draw the pictures of the pages in docs/pictures, from an invented sitting in headless Chromium.

Run from the repository: ``python -m builders.draw_screens``. Needs Chromium and Playwright.
"""

import tempfile
from pathlib import Path
from typing import Any

from playwright.sync_api import sync_playwright

from builders.web_stage import CHROMIUM, FLAGS, draw_frames, prepare_sitting, serving

PICTURES = Path(__file__).resolve().parent.parent / "docs" / "pictures"
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
            browser.close()


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
    if page == "hand":
        opened.evaluate("document.querySelector('.hand').scrollIntoView()")
    opened.wait_for_timeout(1500)
    opened.screenshot(path=PICTURES / f"web-{page}-{size}-{tone}.png")
    context.close()


if __name__ == "__main__":
    main()
