"""A log that can't hold a sitter: words fixed in the code, and whole numbers, nothing else.

Libraries and our own code may log through ``sitwell.*``; whatever they pass as an argument is left
out unless it is a whole number, and of an error only its kind and its place are written.
"""

import logging
import os
from pathlib import Path

from sitwell.store.places import Places, touch_privately

_LEFT_OUT = "[left out]"
_LONGEST_BYTES = 1024 * 1024


class NoSitter(logging.Filter):
    """Lets a record through with its fixed words and whole numbers only."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Strip the record in place; always True."""
        # A message that is not a plain str was built from something; we can't know from what.
        record.msg = record.msg if type(record.msg) is str else _LEFT_OUT
        if isinstance(record.args, tuple):
            record.args = tuple(_harmless(argument) for argument in record.args)
        elif record.args:
            record.args = {key: _harmless(value) for key, value in record.args.items()}
        if record.exc_info and record.exc_info[0] is not None:
            record.msg = f"{record.msg} ({record.exc_info[0].__name__})"
        record.exc_info = record.exc_text = record.stack_info = None
        return True


def start_log(places: Places) -> None:
    """Write the log of ``sitwell.*`` to our own folder, once; a long one starts over."""
    path = places.logs / "sitwell.log"
    logger = logging.getLogger("sitwell")
    for old in [h for h in logger.handlers if isinstance(h, _OurFile)]:
        if Path(old.baseFilename) == path:
            return
        logger.removeHandler(old)
        old.close()
    touch_privately(path)
    if path.stat().st_size > _LONGEST_BYTES:
        os.truncate(path, 0)
    handler = _OurFile(path, encoding="utf-8", delay=True)
    handler.addFilter(NoSitter())
    handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(message)s"))
    logger.addHandler(handler)
    logger.setLevel(logging.INFO)


class _OurFile(logging.FileHandler):
    """Our own log file, told from a handler that the person's program added."""


def _harmless(argument: object) -> object:
    return argument if type(argument) in (int, bool) else _LEFT_OUT
