"""Write docs/cli.md from the command line itself: ``python -m builders.docs.cli_page``.

The same words that ``--help`` prints, without its boxes, so that the page doesn't depend on how
wide a terminal is. A test fails when the page is stale.
"""

from pathlib import Path
from typing import Any

import typer.main

from sitwell.base.files import write_atomically
from sitwell.ui.cli import app

PAGE = Path(__file__).resolve().parents[2] / "docs" / "cli.md"
OPENING = """# The command line

Made from `sitwell --help` by `python -m builders.docs.cli_page`; change the words there.
Exit codes: 0 done, 1 the input can't serve (one sentence says why), 2 wrong usage.
"""


def main() -> None:
    """Write the page."""
    write_atomically(PAGE, page())


def page() -> str:
    """The whole page."""
    commands = typer.main.get_command(app).commands  # type: ignore[attr-defined]
    return OPENING + "".join(_section(name, command) for name, command in commands.items())


def _section(name: str, command: Any) -> str:
    takes = [param for param in command.params if param.name != "help"]
    rows = "".join(_row(param) for param in takes)
    table = f"\n| | value | what |\n|---|---|---|\n{rows}" if rows else ""
    return f"\n## sitwell {name}\n\n{' '.join(command.help.split())}\n{table}"


def _row(param: Any) -> str:
    is_option = param.param_type_name == "option"
    if is_option:
        names = ", ".join(f"`{text}`" for text in (*param.opts, *param.secondary_opts))
    else:
        names = f"`{param.name.upper()}`"
    words = " ".join((param.help or "").split()).replace("|", "\\|")
    return f"| {names} | {_value(param)} | {words} |\n"


def _value(param: Any) -> str:
    if param.param_type_name == "option" and param.is_flag:
        return "on by default" if param.default is True else ""
    many = ", may be repeated" if param.multiple or param.nargs == -1 else ""
    if param.required:
        return f"required{many}"
    shown = "" if callable(param.default) else str(param.default or "")
    return f"`{shown}` by default{many}" if shown else many.removeprefix(", ")


if __name__ == "__main__":
    main()
