"""A watched folder on a thread of its own; the pages look at what it has seen."""

import threading
from collections import deque
from pathlib import Path

from sitwell.base.errors import ShootError, SitwellError
from sitwell.base.words import tr
from sitwell.shoot.live import Checked, LiveCheck, watch_and_check

REMEMBERED = 60


class FolderWatch:
    """Watches one folder until it is stopped; ``seen`` holds the latest frames, newest first."""

    def __init__(self, folder: Path, state: Path, live: LiveCheck) -> None:
        if not folder.is_dir():
            raise ShootError(
                tr("There is no folder '{folder}' to watch; check the name.", folder=folder)
            )
        self.folder = folder
        self.seen: deque[Checked] = deque(maxlen=REMEMBERED)
        self.count = 0
        self.trouble = ""
        self._halt = threading.Event()
        self._thread = threading.Thread(
            target=self._watch, args=(state, live), name="lookout", daemon=True
        )
        self._thread.start()

    @property
    def over(self) -> bool:
        """Whether it has stopped."""
        return not self._thread.is_alive()

    def stop(self) -> None:
        """Stop after the frame in hand."""
        self._halt.set()

    def _watch(self, state: Path, live: LiveCheck) -> None:
        try:
            for checked in watch_and_check(self.folder, state, live, self._halt):
                self.seen.appendleft(checked)
                self.count += 1
        except SitwellError as error:
            self.trouble = str(error)
