"""Options that several commands take, each declared once with its words."""

from pathlib import Path
from typing import Annotated

import typer

Kit = Annotated[str, typer.Option(help="A preset's name or a TOML file (docs/kit.md).")]
Room = Annotated[str, typer.Option(help="A preset's name or a TOML file (docs/kit.md).")]
SunPlace = Annotated[
    str, typer.Option(help="In the sun: degrees north, degrees east, e.g. 51.48,-0.01.")
]
SunTime = Annotated[
    str, typer.Option(help="In the sun: when, e.g. 2026-11-25T15:00 or 15:00; now if left.")
]
Framing = Annotated[str, typer.Option(help="tight-head to full-length; left: head-and-shoulders.")]
Aspect = Annotated[str, typer.Option(help="Width to height; 4:5 if left.")]
Out = Annotated[Path | None, typer.Option(help="Folder for the plan files and the sheets.")]
Paper = Annotated[str, typer.Option(help="a4 or us-letter; a4 if left.")]
Discreet = Annotated[
    bool, typer.Option(help="Also print sheets that show moves only, fit for a sitter's eyes.")
]
PlainHead = Annotated[
    bool, typer.Option("--plain-head", help="Draw the sitter in lines, not from their frames.")
]
Named = Annotated[
    str,
    typer.Option("--setup", help="Which set-up of the plan: gentle, balanced, strong or another."),
]
Json = Annotated[bool, typer.Option("--json", help="Print JSON, for programs.")]
