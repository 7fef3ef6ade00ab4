"""Commands of the records: leave, who is in them, moving and guarding them, forgetting."""

import os
import sys
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sitwell.base.errors import SealError, UsageError
from sitwell.base.words import tr
from sitwell.ui import say

if TYPE_CHECKING:
    from sitwell.ui.records_door import Door

Label = Annotated[str, typer.Argument(help="The sitter's label: a number or initials will do.")]
PASSPHRASE_VARIABLE = "SITWELL_PASSPHRASE"


def door() -> "Door":
    """The records in their usual place; the passphrase is asked for where they are sealed."""
    from sitwell.ui.records_door import Door

    return Door(ask=_ask_passphrase)


def consent(
    sitter: Label,
    wishes: Annotated[
        bool, typer.Option("--wishes", help="Also ask for notes on what they wish.")
    ] = False,
    until: Annotated[
        datetime | None, typer.Option(formats=["%Y-%m-%d"], help="The last day of keeping.")
    ] = None,
    guardian: Annotated[
        str | None, typer.Option(help="For a child: the name of who said yes.")
    ] = None,
    yes: Annotated[
        bool, typer.Option("--yes", help="The notice was read out and the answer was yes.")
    ] = False,
) -> None:
    """Show the notice, ask, and write a yes down; nothing of a face is kept before that."""
    from sitwell.store.days import day_words
    from sitwell.store.sittings import Yes

    asked = Yes(wishes=wishes, until=until.date() if until else None, guardian=guardian)
    say.line(asked.notice())
    say.note(tr("This is no legal advice; ask a lawyer what the law wants where you work."))
    if not yes and not typer.confirm(tr("Do they say yes?")):
        say.line(tr("Nothing was written down, and nothing will be kept."))
        return
    door().record_yes(sitter, asked)
    say.line(
        tr(
            "Written down for '{label}'; kept until {day}, then erased.",
            label=sitter,
            day=day_words(asked.day),
        )
    )


def sitters() -> None:
    """List who is in the records, until when, and which set-ups worked for them."""
    from sitwell.store.days import day_words

    records = door()
    known = records.sitters()
    if not known:
        say.line(tr("Nobody is in the records."))
    for text in records.still_to_erase():
        say.note(text)
    for line in known:
        told = (
            tr("until {day}", day=day_words(line.keep_until))
            if line.keep_until
            else tr("nothing may be kept")
        )
        if line.worked:
            told += "; " + tr("worked: {setups}", setups=", ".join(line.worked))
        say.line(f"{line.label}: {told}")


def search(
    text: Annotated[str, typer.Argument(help="A word from a label, a note or a wish.")],
) -> None:
    """Find words in the records' labels, notes, wishes, kits and rooms."""
    found = door().search(text)
    if not found:
        say.line(tr("Nothing in the records says '{text}'.", text=text))
    for label, hit in found:
        say.line(f"{label or type(hit.record).__name__}: {hit.field}: {hit.text}")


def worked(
    sitter: Label,
    setup: Annotated[str, typer.Argument(help="The set-up: gentle, balanced, strong or another.")],
    plan: Annotated[
        Path | None, typer.Option(help="Its plan.json; else the latest plan in the records.")
    ] = None,
    not_so: Annotated[bool, typer.Option("--not", help="It was shot and did not work.")] = False,
    note: Annotated[str, typer.Option(help="A word on why.")] = "",
) -> None:
    """Note that a set-up was shot and worked, to start from it next time."""
    from sitwell.sheet.plan_file import load_plan
    from sitwell.shoot.choice import choose_setup

    shot = choose_setup(load_plan(plan)[0], setup).setup if plan else None
    door().note_used(sitter, setup, shot, worked=not not_so, note=note)
    how = tr("did not work") if not_so else tr("worked")
    say.line(tr("Noted for '{label}': {name} {how}.", label=sitter, name=setup, how=how))


def forget(
    sitter: Annotated[str, typer.Argument(help="The sitter's label.")] = "",
    only: Annotated[
        str, typer.Option(help="End one yes and keep the rest: measurements, wishes or crops.")
    ] = "",
    frames: Annotated[
        bool,
        typer.Option(
            "--frames",
            help="Erase what belongs to no one sitter: readings of frames, and plans and sheets "
            "made without a recorded yes.",
        ),
    ] = False,
) -> None:
    """Erase all that is kept of a sitter, in every copy of ours, and say what that was."""
    if not sitter and (only or not frames):
        raise UsageError(
            tr("Say whom to forget: sitwell forget SITTER, or sitwell forget --frames.")
        )
    report: list[str] = []
    if sitter:
        report += door().withdraw(sitter, only) if only else door().forget(sitter)
    if frames:
        report += door().forget_loose()
    for text in report:
        say.line(text)


def export(
    sitter: Label,
    out: Annotated[
        Path | None, typer.Option(help="The file or folder to write to; else our own folder.")
    ] = None,
    every: Annotated[
        bool, typer.Option("--all", help="Each sitting to a file of its own, not only the latest.")
    ] = False,
) -> None:
    """Write a sitting to one file: a zip with its records as JSON and its sheets as PDF."""
    for path in door().export(sitter, out, every=every):
        say.line(tr("Written, and not sealed: {path}", path=path))


def import_(
    file: Annotated[Path, typer.Argument(help="A file that sitwell export wrote.")],
    label: Annotated[
        str, typer.Option("--sitter", help="Another label, where theirs is taken here.")
    ] = "",
    sheets: Annotated[
        Path | None, typer.Option(help="Folder to write the file's sheets to.")
    ] = None,
) -> None:
    """Take a sitting from such a file into the records, all of it or nothing."""
    from sitwell.store.days import day_words

    taken, written = door().take_in(file, label or None, sheets)
    say.line(
        tr(
            "Taken in: the sitting of {day} of '{label}'.",
            day=day_words(taken.sitting.at.date()),
            label=taken.sitter.label,
        )
    )
    for path in written:
        say.line(tr("Written: {path}", path=path))
    if taken.sheets and not written:
        count = len(taken.sheets)
        say.line(tr("The file holds {count} sheets; --sheets FOLDER writes them out.", count=count))


def backup(
    out: Annotated[Path | None, typer.Option(help="Folder for the copy; else our own.")] = None,
) -> None:
    """Copy the records, also while a window uses them; forgetting cleans the copy too."""
    say.line(tr("Backed up to {path}", path=door().back_up(out)))


def restore(
    backup: Annotated[
        Path | None, typer.Argument(help="A file that sitwell backup wrote; without one, a list.")
    ] = None,
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask whether this is meant.")] = False,
) -> None:
    """Go back to a backup; whoever was forgotten since stays forgotten."""
    if backup is None:
        known = door().backups()
        for path in known:
            say.line(str(path))
        if not known:
            raise UsageError(tr("There is no backup in our own folder; make one: sitwell backup."))
        return
    asked = tr("Put {path} in the place of the records? They are backed up first.", path=backup)
    if not yes and not typer.confirm(asked):
        say.line(tr("Nothing was changed."))
        return
    before = door().restore(backup, lambda: _prompted(tr("The backup's own passphrase")))
    say.line(
        tr(
            "Restored from {path}; the records of before are in {before}",
            path=backup,
            before=before,
        )
    )


def seal() -> None:
    """Seal the records with a passphrase, or change it; typed, or piped in as one line."""
    from sitwell.store.sealed import LOST_PASSPHRASE

    say.note(tr(LOST_PASSPHRASE))
    if sys.stdin.isatty():
        words = _prompted(tr("A new passphrase, four or five words"), twice=True)
    else:
        words = sys.stdin.readline().rstrip("\r\n")
    left = door().seal(words)
    say.line(tr("The records and every backup within reach are sealed; keep the passphrase safe."))
    for text in left:
        say.line(tr("Not sealed yet: {what}", what=text))


def _ask_passphrase() -> str:
    return os.environ.get(PASSPHRASE_VARIABLE, "") or _prompted(tr("Passphrase of the records"))


def _prompted(words: str, *, twice: bool = False) -> str:
    if not sys.stdin.isatty():
        raise SealError(
            tr(
                "These records are sealed; give the passphrase on a terminal or in "
                "{passphrase_variable}.",
                passphrase_variable=PASSPHRASE_VARIABLE,
            )
        )
    typed: str = typer.prompt(words, hide_input=True, confirmation_prompt=twice, err=True)
    return typed
