"""The command line in this process, with everything that a process would have of its own.

Starting Python and loading what reads a face takes two seconds of processor time, a test often
less. What only a process of its own can show (a page of letters, a signal, what is loaded) is
tested with one. Searches are short here: how good a plan is, is asked of the planner.
"""

import sys
from contextlib import chdir
from dataclasses import dataclass
from pathlib import Path
from unittest import mock

from typer.testing import CliRunner

from sitwell.search import planner
from sitwell.ui.cli import main

SHORT = 300


@dataclass(frozen=True, slots=True)
class Done:
    """What a command ended with and printed."""

    returncode: int
    stdout: str
    stderr: str


def sitwell(*arguments, cwd=None, typed="", **variables):
    """Run ``sitwell`` with what is ``typed`` into a pipe and these variables of the environment."""
    code = 0
    with (
        chdir(cwd or Path.cwd()),
        mock.patch.object(planner, "EVALUATIONS_ALONE", SHORT),
        mock.patch.object(sys, "argv", ["sitwell", *map(str, arguments)]),
        CliRunner().isolation(input=typed, env=variables) as (out, err, _),
    ):
        try:
            main()
        except SystemExit as end:
            code = end.code or 0
        sys.stdout.flush()
        sys.stderr.flush()
        return Done(code, out.getvalue().decode("utf-8"), err.getvalue().decode("utf-8"))
