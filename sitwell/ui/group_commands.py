"""The command for couples and groups: one camera and key for several sitters."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sitwell.base.words import number, tr
from sitwell.ui import options, record_commands, say

if TYPE_CHECKING:
    from sitwell.brief.daylight import Daylight
    from sitwell.search.group import GroupPlan, PlannedGroup


def group(
    sitters: Annotated[
        Path, typer.Argument(help="A TOML file with a table for each sitter (docs/groups.md).")
    ],
    kit: options.Kit = "",
    room: options.Room = "",
    sun_place: options.SunPlace = "",
    sun_time: options.SunTime = "",
    framing: options.Framing = options.FRAMING,
    aspect: options.Aspect = options.ASPECT,
    lock: Annotated[
        list[str] | None, typer.Option(help="Hold what is everybody's: focal_mm=85, f_number=5.6.")
    ] = None,
    out: options.Out = None,
    paper: options.Paper = options.PAPER,
    discreet: options.Discreet = False,
    plain_head: options.PlainHead = False,
    json: options.Json = False,
) -> None:
    """Plan several sitters together: one camera and key, each with their own moves and place."""
    from sitwell import flow, together
    from sitwell.ui.plan_records import note_files

    flow.check_paper(paper)
    spot = flow.sunny_room(room, sun_place, sun_time)
    read = together.read_together(sitters)
    with say.progress(quiet=json) as progress:
        made = together.plan_together(
            read,
            kit=kit,
            room=spot,
            framing=framing,
            aspect=aspect,
            locks=lock or [],
            progress=progress,
        )
    files = []
    if out is not None:
        files = together.write_together(
            made,
            read,
            out,
            kit=kit,
            room=spot,
            paper=paper,
            discreet=discreet,
            plain_head=plain_head,
        )
        note_files(record_commands.door(), files)
    if json:
        say.json_text(together.group_as_dict(made) | {"files": [str(path) for path in files]})
        return
    own_lights = flow.own_lights([planned.setup.shared for planned in made.setups], kit, spot)
    for planned, daylight in zip(made.setups, own_lights, strict=True):
        _show(made, planned, daylight)
    for told in (*(conflict.sentence for conflict in made.conflicts), *made.notes):
        say.line(tr("Note: {note}", note=told))
    for path in files:
        say.line(tr("Written: {file}", file=path))


def _show(made: "GroupPlan", planned: "PlannedGroup", daylight: "Daylight | None") -> None:
    """One set-up: what is everybody's, then each sitter from camera left."""
    from sitwell.sheet.daylight import place_words as light_words
    from sitwell.sheet.group_words import group_guard_words, place_words
    from sitwell.sheet.names import wish_name
    from sitwell.sheet.page import setup_title
    from sitwell.ui.show import signed, spoken_lines

    say.line("")
    say.console.rule(f"[bold]{setup_title(planned.name)}[/bold]", align="left", style="dim")
    for setting in light_words(planned.setup.shared, daylight):
        note = f" ({setting.note})" if setting.note else ""
        say.line(f"  {setting.name}: {setting.value}{note}")
    lost = [group_guard_words(guard.name) for guard in planned.guards if not guard.holds]
    held = tr("not held: {guards}", guards="; ".join(lost)) if lost else tr("all guards hold")
    say.line("  " + tr("The group: {held}", held=held))
    told = tr(
        "Eyes {step} of a face apart in height; {was} in a plain row.",
        step=number(planned.height_step, whole=True),
        was=number(made.baseline_height_step, whole=True),
    )
    say.line(f"  {told}")
    for index in planned.setup.left_to_right():
        part = planned.planned[index]
        say.line(f"  {made.labels[index]}, {place_words(planned.setup, index)}:")
        for said in spoken_lines(part):
            say.line(f"    {said}")
        for wish in dict.fromkeys(gain.wish for gain in part.gains):
            best = max((g.gain for g in part.gains if g.wish == wish), key=abs)
            told = tr("{wish}: {gain} noticeable steps", wish=wish_name(wish), gain=signed(best))
            say.line(f"    {told}")
        for note in part.notes:
            say.line("    " + tr("Note: {note}", note=note))
    for note in planned.notes:
        say.line("  " + tr("Note: {note}", note=note))
