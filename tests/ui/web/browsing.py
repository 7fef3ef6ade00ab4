"""What the tests in a real browser share; the fixtures are in conftest.py.

Needs Chromium and Playwright; the frames are pictures of an invented head.
"""

import pytest

from builders.docs.web_stage import CHROMIUM
from sitwell.base.errors import ModelError
from sitwell.face.model import model_path


def has_model():
    try:
        return model_path().exists()
    except ModelError:
        return False


NEEDED = [
    pytest.mark.slow,
    pytest.mark.skipif(CHROMIUM is None, reason="needs Chromium"),
    pytest.mark.skipif(not has_model(), reason="needs the landmark model: sitwell model"),
]
SIZES = {"laptop": (1366, 768), "tablet": (820, 1180), "phone": (390, 844)}


def open_hand(page, sitting):
    page.goto(f"{sitting}/plan")
    page.wait_for_selector(".hand .curve-grid")
