"""The command that takes still frames from a film, for reading a face from them."""

from pathlib import Path
from typing import Annotated

import typer

from sitwell.base.formats import named
from sitwell.base.words import number, tr
from sitwell.ui import options, say


def stills(
    film: Annotated[Path, typer.Argument(help="A film in which the sitter turns, MP4 or MOV.")],
    out: Annotated[Path, typer.Option(help="The folder that the frames are written to.")],
    most: Annotated[int, typer.Option(min=1, max=20, help="How many frames at most.")] = 6,
    json: options.Json = False,
) -> None:
    """Take the frames of a film that show the head best: sharp, eyes open, unlike in pose."""
    from sitwell import flow

    with say.progress(quiet=json) as progress:
        taken = flow.stills(film, out, most, progress)
    if json:
        rows = [
            {
                "file": path.name,
                "second": round(still.second, 2),
                "turn_deg": round(still.turn_deg),
                "chin_deg": round(still.chin_deg),
            }
            for path, still in taken
        ]
        say.json_text(named("stills", {"stills": rows}))
        return
    for path, still in taken:
        say.line(
            tr(
                "{file}: at {second} s, turn about {turn}, chin about {chin} degrees.",
                file=path,
                second=number(still.second),
                turn=number(still.turn_deg, 0),
                chin=number(still.chin_deg, 0),
            )
        )
    say.note(tr("A film doesn't tell its lens; read the frames with --focal-equivalent-mm."))
