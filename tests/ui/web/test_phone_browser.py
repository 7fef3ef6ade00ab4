"""A phone in the network: the code is read from the screen as its camera would, and opens one page.

The phone is a second browser that calls this machine by its network's address, so the door takes
it for a stranger.
"""

import io
from urllib.parse import urlsplit

import numpy as np
import pytest
from PIL import Image

from builders.docs.web_stage import (
    CHROMIUM,
    FLAGS,
    LONG_MS,
    camera_flags,
    draw_clip,
    prepare_sitting,
    serving,
)
from sitwell.ui.web.example_sitting import draw_frames
from sitwell.ui.web.listening import called, is_this_machine
from tests.ui.web.browsing import NEEDED, SIZES

pytest.importorskip("playwright.sync_api")


def has_network():
    return called()[0].isdigit() and not is_this_machine(called())


pytestmark = [*NEEDED, pytest.mark.skipif(not has_network(), reason="needs a network address")]


@pytest.fixture(scope="module")
def encrypted(browser, tmp_path_factory):
    """A sitting on a server that lets phones in."""
    with serving(tmp_path_factory.mktemp("phone"), "encrypted") as url:
        yield prepare_sitting(browser, url, draw_frames(tmp_path_factory.mktemp("frames")))


@pytest.fixture
def phone(driver, tmp_path):
    """A phone whose camera sees the invented sitter straight on."""
    clip = draw_clip(tmp_path / "still.mjpeg", turn_deg=0.0)
    opened = driver.chromium.launch(executable_path=CHROMIUM, args=[*FLAGS, *camera_flags(clip)])
    width, height = SIZES["phone"]
    # the owner has said once that this certificate will do
    context = opened.new_context(
        viewport={"width": width, "height": height}, ignore_https_errors=True
    )
    page = context.new_page()
    page.set_default_timeout(LONG_MS)
    yield page
    opened.close()


def read_code(page):
    """What a camera reads from the screen."""
    import cv2

    shown = page.locator(".qr")
    shown.wait_for()
    picture = np.asarray(Image.open(io.BytesIO(shown.screenshot())).convert("L"))
    return cv2.QRCodeDetector().detectAndDecode(picture)[0]


def code_on(page, address):
    page.goto(address)
    page.wait_for_selector("#work h1")
    page.click(".phone summary")
    return read_code(page)


def test_the_set_is_opened_on_a_phone_and_nothing_else(page, phone, encrypted):
    target = code_on(page, f"{encrypted}/set")
    assert target.startswith(f"https://{called()}:")
    phone.goto(target)
    phone.click("button")
    phone.wait_for_selector("text=Settle in, tall and easy")
    phone.click("button:has-text('Next')")  # the line to the server is open
    phone.wait_for_selector("text=Let your shoulders go soft and low.")
    phone.wait_for_function("document.querySelector('.target img').naturalWidth > 0")
    assert phone.locator(".steps, .sheets, .phone").count() == 0
    assert phone.evaluate("document.documentElement.scrollWidth <= innerWidth")
    ours = "{0.scheme}://{0.netloc}".format(urlsplit(target))
    for path in ("/", urlsplit(f"{encrypted}/talk").path, urlsplit(f"{encrypted}/shoot").path):
        assert phone.request.get(f"{ours}{path}").status == 401
    assert phone.request.get(target).status == 401 or phone.request.get(target).url != target


def test_the_phone_s_own_camera_is_practised_before(page, phone, encrypted):
    phone.goto(code_on(page, f"{encrypted}/shoot"))
    phone.click("button")
    phone.click("text=Start the camera")
    phone.wait_for_selector(".practice .spoken:has-text('shoulder')")
