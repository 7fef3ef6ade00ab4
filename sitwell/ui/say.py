"""Lines, notes, JSON and progress: what every command prints with, quick to import."""

import json
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from io import TextIOWrapper
from typing import Any

from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn

from sitwell.base.words import tr

# A pipe has no width of its own; a terminal has.
console = Console(highlight=False, soft_wrap=True, width=None if Console().is_terminal else 120)
errors = Console(stderr=True, highlight=False)
_ORDERS = {code: f"\\x{code:02x}" for code in (*range(32), *range(127, 160)) if code not in (9, 10)}


def let_any_text_be_printed() -> None:
    """Speak UTF-8 also into pipes and files, whatever the system's own page of letters is.

    File names that are no text at all are printed with escapes, where they would end the program.
    """
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(encoding="utf-8", errors="backslashreplace")


def shown(text: object) -> str:
    """Text for a terminal: the orders to it that a file's name may hold are spelled out."""
    return str(text).translate(_ORDERS)


def line(text: str) -> None:
    """One plain line."""
    console.print(shown(text), markup=False)


def notes(texts: Sequence[str]) -> None:
    """A line for each note."""
    for note in texts:
        line(tr("Note: {note}", note=note))


def json_text(content: Any) -> None:
    """JSON on standard output, nothing else."""
    print(json.dumps(content, indent=1, ensure_ascii=False, allow_nan=False))


@contextmanager
def progress(*, quiet: bool) -> Iterator[Callable[[float, str], None]]:
    """A bar on standard error for a long job, told a share 0..1 and what is being done."""
    bar = Progress(
        TextColumn("{task.description:<24}"),
        BarColumn(),
        console=errors,
        transient=True,
        disable=quiet or not errors.is_terminal,
    )
    with bar:
        task = bar.add_task("", total=1.0)
        yield lambda share, doing: bar.update(task, completed=share, description=tr(doing))


def note(text: str) -> None:
    """One line beside the result, on standard error, so that JSON stays JSON."""
    errors.print(shown(text), markup=False, soft_wrap=True)
