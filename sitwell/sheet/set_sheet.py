"""The sheet of one set-up, for one sitter or several: what it shows, and all its words.

The command line, the pages and scripts print through here, so that they print the same lines.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from sitwell.base.words import joined, mark, tr
from sitwell.brief.kit import Kit
from sitwell.brief.room import Room, key_light
from sitwell.head.surface import Head
from sitwell.likeness.drawn_together import Scene, Standing, draw_together, show_together
from sitwell.likeness.portrayal import DRAWN, MADE, SOME_DRAWN, Portrait, Portrayal
from sitwell.scene.clear_glare import clear_glare, cure_words
from sitwell.scene.crop_check import Edges, crop_faults, edges_for, formats_that_fit
from sitwell.scene.daylight_level import own_light
from sitwell.scene.glasses_measures import Glasses
from sitwell.search.group import GroupPlan, GroupSetup, PlannedGroup
from sitwell.sheet.group_page import write_group_sheet
from sitwell.sheet.lamps import power_settings
from sitwell.sheet.pdf import write_sheet

PICTURE_PX, TOGETHER_PX = 1200, 900  # heights
CUT = mark("Look at the edges of the frame: {cut}.")
FITTING = mark("Formats in which nothing is cut so: {formats}.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """A sitter to be pictured: their head, what makes the pictures, and a note on those, if any."""

    head: Head
    portrayal: Portrayal
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Means:
    """What a sheet is printed for: the kit and room, the paper, and whose it is."""

    kit: Kit
    room: Room
    paper: str = "a4"
    label: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A set-up's picture, the one for a sheet that the sitter may see, and each sitter's notes."""

    seen: Portrait
    discreet: Portrait
    notes: tuple[tuple[str, ...], ...]


def draw_setup(
    plan: GroupPlan, planned: PlannedGroup, looks: Sequence[Look], means: Means
) -> Drawn:
    """The picture of a set-up, and what it shows: cuts at its edges, glare on glasses."""
    notes = tuple(
        _notes(planned, index, look, means, alone=plan.is_of_one)
        for index, look in enumerate(looks)
    )
    if not plan.is_of_one:
        portrayals = [look.portrayal for look in looks]
        seen, calm = (
            draw_group(portrayals, planned.setup, TOGETHER_PX, drawn=drawn)
            for drawn in (False, True)
        )
        return Drawn(seen=seen, discreet=calm, notes=notes)
    portrayal, setup = looks[0].portrayal, planned.setup.own(0)
    seen = portrayal.portrait(setup, PICTURE_PX)
    calm = seen if seen.is_drawn else portrayal.portrait(setup, PICTURE_PX, drawn=True)
    return Drawn(seen=seen, discreet=calm, notes=notes)


def draw_group(
    portrayals: Sequence[Portrayal], setup: GroupSetup, height_px: int, *, drawn: bool = False
) -> Portrait:
    """Everybody as the camera will see them in a set-up: from frames where that is believed.

    ``drawn`` asks for the drawing whatever the frames show.
    """
    standing = [
        Standing(
            drawing=portrayal.drawing,
            setup=setup.own(i),
            bearing_deg=setup.bearing_deg(i),
            likeness=None if drawn else portrayal.believed(setup.own(i)),
        )
        for i, portrayal in enumerate(portrayals)
    ]
    scene = Scene(lens_mm=setup.shared.lens_mm(), window=setup.window(), height_px=height_px)
    shown = [one.likeness is not None for one in standing]
    if not any(shown):
        return Portrait(image=draw_together(standing, scene), caption=tr(DRAWN))
    caption = tr(MADE) if all(shown) else tr(SOME_DRAWN)
    return Portrait(image=show_together(standing, scene), caption=caption)


def write_set_sheet(
    path: Path,
    plan: GroupPlan,
    planned: PlannedGroup,
    drawn: Drawn,
    means: Means,
    *,
    discreet: bool = False,
) -> Path:
    """The sheet at ``path`` (.pdf or .png), whole or not at all; see ``write_sheet``."""
    plan, planned = _with_notes(plan, planned, drawn.notes)
    shared = planned.setup.shared
    light = key_light(means.kit, means.room, shared.key_size_mm)
    daylight = own_light(means.kit, means.room, shared)
    more = power_settings(shared, light, means.kit)
    seen = drawn.discreet if discreet else drawn.seen
    if not plan.is_of_one:
        return write_group_sheet(
            plan,
            planned,
            seen.image,
            path,
            caption=seen.caption,
            paper=means.paper,
            discreet=discreet,
            light=light.kind(),
            daylight=daylight,
            more=more,
        )
    return write_sheet(
        planned.planned[0],
        plan.parts[0],
        seen.image,
        path,
        caption=seen.caption,
        paper=means.paper,
        discreet=discreet,
        sitter=means.label,
        light=light.kind(),
        daylight=daylight,
        more=more,
    )


def _notes(
    planned: PlannedGroup, index: int, look: Look, means: Means, *, alone: bool
) -> tuple[str, ...]:
    """What a sitter's picture shows that is worth a word."""
    own, setup = planned.planned[index], planned.setup.own(index)
    view = look.portrayal.view(setup)
    edges: Edges | None = None
    if not alone:
        group = planned.setup
        edges = edges_for(view, group.shared.lens_mm(), group.window(), group.bearing_deg(index))
    cut = joined(crop_faults(view, edges), "; ")
    fitting = ", ".join(formats_that_fit(view)) if cut and alone else ""
    key = key_light(means.kit, means.room, planned.setup.shared.key_size_mm)
    cures = (
        clear_glare(look.head, setup, Glasses(), key_moves=alone and not key.stays())
        if own.wears_glasses
        else None
    )
    told = (
        look.note,
        tr(CUT, cut=cut) if cut else "",
        tr(FITTING, formats=fitting) if fitting else "",
        cure_words(cures),
    )
    return tuple(filter(None, told))


def _with_notes(
    plan: GroupPlan, planned: PlannedGroup, notes: Sequence[Sequence[str]]
) -> tuple[GroupPlan, PlannedGroup]:
    """The plan with a set-up as it is drawn, and each sitter's notes on the picture."""
    owns = tuple(
        replace(own, notes=(*own.notes, *more))
        for own, more in zip(planned.planned, notes, strict=True)
    )
    noted = replace(planned, planned=owns)
    return plan.with_setup(noted), noted
