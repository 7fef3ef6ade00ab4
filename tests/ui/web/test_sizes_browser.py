"""What fits where: laptop, tablet and phone, in English and German, in a real browser."""

import pytest

from tests.ui.web.browsing import NEEDED, SIZES, open_hand

pytest.importorskip("playwright.sync_api")
pytestmark = NEEDED

PAGES = ("talk", "read", "plan", "set", "shoot", "sort", "kit", "records")
FINGERS = ("tablet", "phone")
SMALL = """() => [...document.querySelectorAll(
    "button, a.btn, summary, select, .strip label, .check, .steps a, .field input")]
  .filter((e) => e.offsetParent && !e.classList.contains("handle") && !e.classList.contains("mark"))
  .map((e) => [e.getBoundingClientRect().height, e.textContent.slice(0, 40)])
  .filter(([high]) => high < 43.5)"""
COLLIDING = """() => [...document.querySelectorAll(".floor")].flatMap((floor) => {
  const words = [...floor.querySelectorAll(".lettering")]
    .filter((e) => getComputedStyle(e).visibility !== "hidden")
    .map((e) => [e.textContent, e.getBoundingClientRect()]);
  const paper = floor.getBoundingClientRect();
  const off = words.filter(([, r]) => r.left < paper.left - 2 || r.right > paper.right + 2)
    .map(([text]) => "off the paper: " + text);
  const two = words.flatMap(([a, r], i) => words.slice(i + 1)
    .filter(([, o]) => r.right - 1 > o.left && o.right - 1 > r.left && r.bottom - 1 > o.top
      && o.bottom - 1 > r.top).map(([b]) => a + " on " + b));
  return [...off, ...two];
})"""
IN_VIEW = """(chosen) => [...document.querySelectorAll(chosen)].every((e) => {
  const r = e.getBoundingClientRect();
  return r.width > 0 && r.top >= -1 && r.bottom <= innerHeight + 1 && r.left >= -1
    && r.right <= innerWidth + 1;
})"""


def at(page, size, language="en"):
    width, height = SIZES[size]
    page.set_viewport_size({"width": width, "height": height})
    page.context.add_cookies(
        [{"name": "sitwell_language", "value": language, "domain": "127.0.0.1", "path": "/"}]
    )


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("size", SIZES)
def test_every_step_and_the_mark_of_this_one_are_in_sight(page, sitting, size, language):
    at(page, size, language)
    for name in PAGES:
        page.goto(f"{sitting}/{name}")
        page.wait_for_selector("#work h1")
        assert page.locator(".steps a").count() == len(PAGES)
        assert page.evaluate(IN_VIEW, ".steps a")
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), name


@pytest.mark.parametrize("size", FINGERS)
def test_what_fingers_touch_is_44_px_high(page, sitting, size):
    at(page, size)
    for name in PAGES:
        page.goto(f"{sitting}/{name}")
        page.wait_for_selector("#work h1")
        if name == "plan":
            page.wait_for_selector(".hand .curve-grid")
        assert page.evaluate(SMALL) == [], name


@pytest.mark.parametrize("size", SIZES)
def test_picture_and_gains_stay_in_view_beside_every_control(page, sitting, size):
    at(page, size)
    open_hand(page, sitting)
    page.evaluate("document.querySelector('.hand').scrollIntoView()")
    for slider in page.locator(".hand .slider").all():
        slider.evaluate("(e) => e.scrollIntoView({block: 'nearest'})")
        assert page.evaluate(IN_VIEW, ".seen img, .watched .tell:first-child > div > .row")
        assert slider.evaluate(
            """(e) => { const r = e.getBoundingClientRect(), w = innerWidth;
            const top = document.elementFromPoint(r.left + 5, r.top + 5);
            return e.contains(top) && r.right <= w; }"""
        )


def test_open_brings_what_it_opens_into_view(page, sitting):
    at(page, "laptop")
    open_hand(page, sitting)
    page.evaluate("scrollTo(0, 0)")
    page.locator(".card .btn").first.click()
    page.wait_for_function(
        "() => Math.abs(document.querySelector('.hand')?.getBoundingClientRect().top ?? 999) < 30"
    )
    assert page.evaluate(IN_VIEW, ".seen img, .hand .slider:first-of-type")


@pytest.mark.parametrize("language", ["en", "de"])
def test_the_whole_talk_is_on_one_screen_of_a_laptop(page, sitting, language):
    at(page, "laptop", language)
    page.goto(f"{sitting}/talk")
    page.wait_for_selector(".talk-sheet")
    if page.locator("button[aria-pressed=true]").count():
        page.evaluate("document.querySelectorAll('.wish').forEach((e) => e.remove())")
    assert page.evaluate(IN_VIEW, ".talk-sheet .group")


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("size", SIZES)
def test_lettering_in_the_drawings_never_collides(page, sitting, size, language):
    at(page, size, language)
    open_hand(page, sitting)
    assert page.evaluate(COLLIDING) == []
    for move, key in ((0, "Home"), (0, "End"), (7, "Home"), (7, "End"), (8, "End"), (5, "Home")):
        page.locator(".slider input[type=range]").nth(move).focus()
        page.keyboard.press(key)
        page.wait_for_timeout(400)  # drawn anew
        assert page.evaluate(COLLIDING) == []
    page.locator(".console .onward button").last.click()
    page.wait_for_timeout(400)
    page.goto(f"{sitting}/kit")
    page.wait_for_selector(".floor .lettering")
    assert page.evaluate(COLLIDING) == []


def test_the_view_closes_by_escape_and_by_a_click_outside(page, sitting):
    page.goto(f"{sitting}/talk")
    summary = page.locator("details.view > summary", has_text="View")
    for close in (lambda: page.keyboard.press("Escape"), lambda: page.mouse.click(300, 700)):
        summary.click()
        page.wait_for_selector("details.view[open] .view-sheet")
        close()
        page.wait_for_selector("details.view[open]", state="detached")


def test_a_mark_lands_on_screen_and_is_dragged_under_a_loupe_on_a_phone(browser, sitting):
    width, height = SIZES["phone"]
    context = browser.new_context(viewport={"width": width, "height": height}, has_touch=True)
    page = context.new_page()
    page.goto(f"{sitting}/read")
    page.wait_for_selector(".figures")
    page.locator("button.feature:has-text('tip of the nose')").tap()
    page.wait_for_selector(".mark")
    page.wait_for_timeout(300)
    assert page.evaluate(IN_VIEW, ".mark")
    spot = page.locator(".mark").bounding_box()
    x, y = spot["x"] + spot["width"] / 2, spot["y"] + spot["height"] / 2
    touch = context.new_cdp_session(page)
    touch.send(
        "Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [{"x": x, "y": y}]}
    )
    moved = {"type": "touchMove", "touchPoints": [{"x": x + 9, "y": y + 7}]}
    touch.send("Input.dispatchTouchEvent", moved)
    page.wait_for_selector(".loupe")
    assert page.evaluate(IN_VIEW, ".loupe")
    touch.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    page.wait_for_selector(".loupe", state="detached")
    page.locator("button.feature:has-text('tip of the nose')").tap()
    page.wait_for_selector(".mark", state="detached")
    context.close()
