"""Read in a real browser: the yes in its place, two faces, things in the way, the level frame."""

import pytest

from builders.docs.web_stage import draw_two
from tests.ui.web.browsing import NEEDED

pytest.importorskip("playwright.sync_api")
pytestmark = NEEDED


def test_a_frame_of_two_is_read_from_the_yes_to_the_tapped_face(page, address, tmp_path):
    page.goto(address)
    page.click("text=Begin a sitting")
    page.wait_for_url("**/talk")
    page.goto(page.url.replace("/talk", "/read"))
    page.wait_for_selector("text=This program measures your face in photographs")
    assert page.locator("input[type=file]").count() == 0
    page.check("text=Read out, and they said yes to being measured.")
    page.set_input_files("input[type=file]", str(draw_two(tmp_path / "two.jpg")))
    page.wait_for_selector("text=Touch the sitter\u2019s face in the frame")
    faces = page.locator(".plate button.face")
    assert faces.count() == 2
    faces.nth(1).click()
    page.wait_for_selector(".figures")
    assert faces.nth(1).get_attribute("aria-pressed") == "true"
    dot = page.evaluate("document.querySelector('.plate .dots').getBBox().x")
    assert dot > 960  # in the frame's right half


def test_the_level_frame_is_taken_said_and_changed_by_one_tap(page, sitting):
    page.goto(f"{sitting}/read")
    level = page.locator("fieldset:has-text('Straight and level is')")
    level.wait_for()
    assert level.locator("label:has(input:checked)").inner_text() == "level.jpg"
    page.wait_for_selector("text=The frame nearest to square")
    level.locator("label:has-text('own_left.jpg')").click()
    page.wait_for_selector("text=The frame nearest to square", state="detached")
    page.locator(".figures dd:has-text('\u221224°'), .figures dd:has-text('\u221225°'), "
                 ".figures dd:has-text('\u221226°')").first.wait_for()  # fmt: skip
    level.locator("label:has-text('level.jpg')").click()
    page.locator(".figures dd >> text=/^0°$/").first.wait_for()


def test_a_hat_is_told_and_taken_back(page, sitting):
    page.goto(f"{sitting}/read")
    hat = page.locator("button.feature:has-text('Hat')")
    hat.wait_for()
    for pressed in ("true", "false"):
        hat.click()
        page.wait_for_function(
            "(p) => [...document.querySelectorAll('button.feature')]"
            ".find((b) => b.textContent === 'Hat')?.ariaPressed === p",
            arg=pressed,
        )
