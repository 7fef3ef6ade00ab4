"""Commands of the records: leave, who is in them, forgetting."""

from datetime import datetime
from typing import Annotated

import typer

from sitwell.base.errors import UsageError
from sitwell.ui import say

Label = Annotated[str, typer.Argument(help="The sitter's label: a number or initials will do.")]


def consent(
    sitter: Label,
    wishes: Annotated[
        bool, typer.Option("--wishes", help="Also ask for notes on what they wish.")
    ] = False,
    until: Annotated[
        datetime | None, typer.Option(formats=["%Y-%m-%d"], help="The last day of keeping.")
    ] = None,
    guardian: Annotated[str, typer.Option(help="For a child: who said yes.")] = "",
    yes: Annotated[
        bool, typer.Option("--yes", help="The notice was read out and the answer was yes.")
    ] = False,
) -> None:
    """Show the notice, ask, and write a yes down; nothing of a face is kept before that."""
    from sitwell.ui import keeping

    day = until.date() if until else None
    say.line(keeping.notice_text(wishes, day, guardian))
    if not yes and not typer.confirm("Do they say yes?"):
        say.line("Nothing was written down, and nothing will be kept.")
        return
    last = keeping.record_consent(sitter, wishes=wishes, until=day, guardian=guardian)
    say.line(f"Written down for '{sitter}'; kept until {last:%d %B %Y}, then erased.")


def sitters() -> None:
    """List who is in the records, and until when."""
    from sitwell.ui import keeping

    known = keeping.sitters()
    if not known:
        say.line("Nobody is in the records.")
    for label, until in known:
        say.line(f"{label}: " + (f"until {until:%d %B %Y}" if until else "nothing may be kept"))


def forget(
    sitter: Annotated[str, typer.Argument(help="The sitter's label.")] = "",
    frames: Annotated[
        bool, typer.Option("--frames", help="Erase all readings of frames kept for no one sitter.")
    ] = False,
) -> None:
    """Erase all that is kept of a sitter, in every copy of ours, and say what that was."""
    from sitwell.ui import keeping

    if not sitter and not frames:
        raise UsageError("Say whom to forget: sitwell forget SITTER, or sitwell forget --frames.")
    if sitter:
        for text in keeping.forget_sitter(sitter):
            say.line(text)
    if frames:
        say.line(f"Erased {keeping.forget_frames()} files with readings of frames.")
