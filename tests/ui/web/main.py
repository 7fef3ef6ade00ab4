"""The app as the page tests start it: papers in the folder that the test names, no real server."""

import os
from pathlib import Path

from nicegui import ui

from sitwell.ui.web.app import build, settings

server = build(Path(os.environ["SITWELL_TEST_PAPERS"]), tests=True)
ui.run(reload=False, storage_secret="only for tests", **settings())
