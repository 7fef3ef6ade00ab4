"""What the commands show of their results: tables and lines for people, JSON for programs."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from sitwell.base.formats import format_of
from sitwell.base.words import number, tr
from sitwell.brief.place_light import Daylight
from sitwell.demo import Demo
from sitwell.flow import SittingPlan
from sitwell.search.group import GroupPlan, PlannedGroup
from sitwell.search.plan import PlannedSetup
from sitwell.sheet.group_words import group_guard_words
from sitwell.sheet.group_words import place_words as standing_words
from sitwell.sheet.names import (
    becomes_words,
    measure_name,
    measure_value,
    why_words,
    wish_name,
)
from sitwell.sheet.page import setup_title
from sitwell.sheet.place_light import daylight_as_dict, place_words
from sitwell.sheet.plan_file import group_as_dict, plan_as_dict
from sitwell.sheet.settings import pattern_words, sharp_words
from sitwell.sheet.words import sitter_words
from sitwell.shoot.live import Checked
from sitwell.shoot.read_frame import position_words
from sitwell.sort.rank import RankedBurst
from sitwell.sort.sorting import Sorting
from sitwell.ui import show_reading
from sitwell.ui.say import console, json_text, line, notes, shown


def plan(made: SittingPlan, files: Sequence[Path], *, as_json: bool) -> None:
    """The set-ups with what they gain and cost, the collisions, and where the sheets are."""
    found, daylights = made.found, made.daylights()
    if as_json:
        json_text(_plan_as_dict(made) | {"files": [str(path) for path in files]})
        return
    for planned, daylight in zip(found.setups, daylights, strict=True):
        if found.is_of_one:
            _setup(planned.planned[0], daylight)
        else:
            _together(found, planned, daylight)
    for conflict in found.conflicts:
        line(tr("Collision: {sentence}", sentence=conflict.sentence))
    notes(found.notes)
    if files:
        line("")
        line(tr("Written:"))
        for path in files:
            line(f"  {path}")


def _plan_as_dict(made: SittingPlan) -> dict[str, Any]:
    found = made.found
    lights = [
        daylight and daylight_as_dict(planned.setup.shared, daylight)
        for planned, daylight in zip(found.setups, made.daylights(), strict=True)
    ]
    content = (
        plan_as_dict(found.parts[0], made.sitters[0].kept)
        if found.is_of_one
        else group_as_dict(found)
    )
    return content | ({"daylight": lights} if any(lights) else {})


def _setup(planned: PlannedSetup, daylight: Daylight | None) -> None:
    line("")
    console.rule(f"[bold]{setup_title(planned.name)}[/bold]", align="left", style="dim")
    pattern = pattern_words(planned.measures, planned.setup.fill_ratio)
    sharp = sharp_words(planned.setup, planned.measures)
    for setting in (*place_words(planned.setup, daylight), sharp, *pattern):
        line(f"  {setting.name}: {setting.value}" + (f" ({setting.note})" if setting.note else ""))
    line(f"  {tr('Say to the sitter')}:")
    for said in spoken_lines(planned):
        line(f"    {said}")
    for gain in planned.gains:
        was, becomes = measure_value(gain.measure, gain.was), becomes_words(gain)
        line(
            "  "
            + tr(
                "{wish}: {measure} {was} -> {becomes}, {gain} noticeable steps",
                wish=wish_name(gain.wish),
                measure=measure_name(gain.measure),
                was=was,
                becomes=becomes,
                gain=show_reading.signed(gain.gain),
            )
        )
    broken = [guard for guard in planned.guards if not guard.holds]
    held, count = len(planned.guards) - len(broken), len(planned.guards)
    line("  " + tr("Guards: {held} of {count} hold", held=held, count=count))
    for guard in broken:
        line("    " + tr("does not hold: {guard}", guard=why_words(guard.name)))
    notes(planned.notes)


def spoken_lines(planned: PlannedSetup) -> list[str]:
    """What to say to the sitter, each with what to show behind it."""
    return [
        f"{word.sentence} ({word.show})" if word.show else word.sentence
        for word in sitter_words(planned.setup, planned.light, planned.expressions)
    ]


def _together(made: GroupPlan, planned: PlannedGroup, daylight: Daylight | None) -> None:
    """One set-up of several: what is everybody's, then each sitter from camera left."""
    line("")
    console.rule(f"[bold]{setup_title(planned.name)}[/bold]", align="left", style="dim")
    for setting in place_words(planned.setup.shared, daylight):
        line(f"  {setting.name}: {setting.value}" + (f" ({setting.note})" if setting.note else ""))
    lost = [group_guard_words(guard.name) for guard in planned.guards if not guard.holds]
    held = tr("not held: {guards}", guards="; ".join(lost)) if lost else tr("all guards hold")
    line("  " + tr("The group: {held}", held=held))
    told = tr(
        "Eyes {step} of a face apart in height; {was} in a plain row.",
        step=number(planned.height_step, whole=True),
        was=number(made.baseline_height_step, whole=True),
    )
    line(f"  {told}")
    for index in planned.setup.left_to_right():
        part = planned.planned[index]
        line(f"  {made.labels[index]}, {standing_words(planned.setup, index)}:")
        for said in spoken_lines(part):
            line(f"    {said}")
        for wish in part.asked:
            best = max((g.gain for g in part.gains if g.wish == wish), key=abs)
            told = tr(
                "{wish}: {gain} noticeable steps",
                wish=wish_name(wish),
                gain=show_reading.signed(best),
            )
            line(f"    {told}")
        for note in part.notes:
            line("    " + tr("Note: {note}", note=note))
    for note in planned.notes:
        line("  " + tr("Note: {note}", note=note))


def checked(seen: Checked) -> None:
    """One frame that landed: the nudge, or that it holds, large enough to be found at a glance."""
    sentence = seen.problem or (seen.nudge.sentence if seen.nudge else tr("It holds."))
    console.print(shown(seen.file), style="dim", markup=False)
    console.print("  " + shown(sentence), style="bold", markup=False)


def sorted_frames(
    sorting: Sorting, written: Sequence[str], alone: Sequence[str] = (), *, as_json: bool
) -> None:
    """Each burst's best frame with its reason, the runners-up in order, and the unread frames.

    ``written`` names the files made, ``alone`` the sidecars left as they were, with the reason.
    """
    if as_json:
        json_text(
            {
                "format": format_of("sorting"),
                "folder": str(sorting.folder),
                "bursts": [burst.as_dict() for burst in sorting.bursts()],
                "unread": [{"file": f.name, "problem": f.problem} for f in sorting.unread()],
                "written": list(written),
                "left_alone": list(alone),
            }
        )
        return
    for place, burst in enumerate(sorting.bursts(), start=1):
        _burst(place, burst)
    for frame in sorting.unread():
        line(tr("Not read: {file}: {problem}", file=frame.name, problem=frame.problem))
    for path in written:
        line(tr("Written: {file}", file=path))
    for told in alone:
        line(tr("Left alone: {what}", what=told))


def _burst(place: int, burst: RankedBurst) -> None:
    best = burst.best
    what = f"{best.file}. {best.reason}" if best else tr("none put forward")
    line(tr("Burst {number}: {what}", number=place, what=what))
    if burst.best_for:
        line("  " + tr("No frame has everybody's eyes open and in focus. For each person:"))
    for person, file in burst.best_for.items():
        line("  " + tr("{who}: best in {file}", who=position_words(person), file=file))
    for frame in burst.frames:
        if frame is not best:
            line(f"  {frame.place}. {frame.file}: {frame.reason}")


def demo(result: Demo) -> None:
    """What was made, how well it was read, and where the sheets are."""
    line(
        tr("An invented sitter (a rendered head; nobody was photographed), read from three frames:")
    )
    show_reading.reading(result.reading, as_json=False)
    line(tr("As the frames were made (turn / chin, counted from the first):"))
    pivot_mm = result.reading.require_head().neck_pivot_mm
    first = result.taken[0].seen_pose_deg(pivot_mm)
    for setup in result.taken:
        turn_deg, chin_deg, _ = setup.seen_pose_deg(pivot_mm)
        turn, chin = turn_deg - first[0], chin_deg - first[1]
        line(
            f"  {show_reading.signed(turn)} / {show_reading.signed(chin)}°, "
            f"{number(setup.distance_mm / 1000, 2, whole=True)} m"
        )
    plan(result.made, [], as_json=False)
    line("")
    line(tr("The sheets to print are in {folder}:", folder=result.folder))
    for path in result.files:
        if path.suffix == ".pdf":
            line(f"  {path}")
