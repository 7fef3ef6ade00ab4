"""The whole tool on one screen: read, plan, print; check and sort follow in their own folders."""

import dataclasses
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from sitwell.base.errors import HeadError, PhotoError, UsageError
from sitwell.base.files import make_atomically
from sitwell.base.words import joined, mark, tr
from sitwell.brief.comfort import comfort_for
from sitwell.brief.daylight import Daylight
from sitwell.brief.kit import DEFAULT_KIT, Kit, LightSource, load_kit
from sitwell.brief.room import DEFAULT_ROOM, Room, key_light, load_room
from sitwell.brief.wishes import parse_wish
from sitwell.face.clip import frames_of, open_clip
from sitwell.head.level import head_as_dict
from sitwell.head.reading import Reading
from sitwell.head.stills import Still, choose_stills
from sitwell.head.surface import Head
from sitwell.scene.clear_glare import clear_glare, cure_words
from sitwell.scene.crop_check import crop_faults
from sitwell.scene.daylight import own_light
from sitwell.scene.exposure import LOWEST_ISO, expose
from sitwell.scene.glasses_measures import Glasses
from sitwell.scene.id_photo import aspect_of, is_id_format, looks_like_id
from sitwell.scene.measures import Evaluator
from sitwell.scene.preview import Sculpture
from sitwell.scene.scan import Scan
from sitwell.scene.setup import Setup
from sitwell.scene.skin_merge import skin_from_frames
from sitwell.scene.sun import room_in_sun
from sitwell.scene.sun_typed import parse_place, parse_time
from sitwell.search.locks import parse_locks
from sitwell.search.plan import Plan, PlannedSetup
from sitwell.search.planner import make_plan
from sitwell.search.sentences import NOTE_ID_PICTURE
from sitwell.sheet.exposure import background_setting, exposure_setting
from sitwell.sheet.lamps import rim_power_setting
from sitwell.sheet.pdf import check_paper, write_sheet
from sitwell.sheet.plan_file import save_faceless_plan, save_plan
from sitwell.sheet.plan_source import Source, levelled
from sitwell.sheet.settings import Setting
from sitwell.shoot.choice import wears_glasses

Progress = Callable[[float, str], None]
PICTURE_PX = (960, 1200)
CUT = mark("Look at the edges of the frame: {cut}.")

__all__ = ["check_paper", "plan", "read", "sitter_of", "write_plan"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sitter:
    """A sitter as read: the reading, their head with their own zero, and what rebuilds it.

    ``source`` is what the head can be read from again, where that is known.
    """

    reading: Reading
    head: Head
    kept: dict[str, Any]
    source: Source | None = None


def read(photos: Sequence[Path], **known: Any) -> Reading:
    """Photographs to what they show; see ``Source`` for what may be ``known`` besides."""
    return Source(photos=tuple(photos), **known).read()


def stills(film: Path, folder: Path, most: int, progress: Progress) -> list[tuple[Path, Still]]:
    """Write the frames of a film that show the head best into a folder; nothing is replaced."""
    clip = open_clip(film)
    chosen = choose_stills(clip, most, progress)
    paths = {still.number: folder / f"{film.stem}-{still.number:05d}.jpg" for still in chosen}
    for path in paths.values():
        if path.exists():
            raise UsageError(
                tr("'{file}' is there already; give another folder with --out.", file=path)
            )
    for number, rgb in frames_of(clip, list(paths)):
        make_atomically(paths[number], partial(Image.fromarray(rgb).save, quality=95))
    return [(paths[still.number], still) for still in chosen]


def sitter_of(reading: Reading, source: Source | None = None) -> Sitter:
    """The sitter's head with their own zero; FaceError where no face was read."""
    head, kept = levelled(reading)
    return Sitter(reading=reading, head=head, kept=kept, source=source)


def sitter_from_scan(scan: Scan, source: Source | None = None) -> Sitter:
    """A scanned head as a sitter; what is kept of it is the nearest parametric head."""
    return Sitter(
        source=source,
        reading=Reading(frames=(), fit=None, notes=scan.notes),
        head=scan.head,
        kept=head_as_dict(scan.head, np.eye(3)),
    )


def plan(
    head: Head,
    *,
    wishes: Sequence[str] = (),
    kit: str = "",
    room: str | Room = "",
    limits: Sequence[str] = (),
    locks: Sequence[str] = (),
    framing: str = "head-and-shoulders",
    aspect: str = "4:5",
    glasses: bool = False,
    rim: bool = False,
    progress: Progress | None = None,
) -> Plan:
    """A head and wishes to three set-ups, in the words of the command line.

    A wish for the glasses says that they are worn; ``glasses`` says it without a wish. ``rim`` asks
    for the kit's rim light.
    """
    asked = [parse_wish(wish) for wish in wishes]
    worn = glasses or any(wish.feature == "glasses" for wish in asked)
    made = make_plan(
        Evaluator(head, Glasses() if worn else None),
        asked,
        _kit(kit),
        _room(room),
        comfort_for(limits),
        framing,
        aspect_of(aspect),
        locked=({"rim": "on"} if rim else {}) | parse_locks(locks),
        progress=progress,
    )
    if is_id_format(aspect) and not looks_like_id(made.baseline):  # else it says so itself
        made = dataclasses.replace(made, notes=(tr(NOTE_ID_PICTURE), *made.notes))
    return made


def sunny_room(room: str, place: str, time: str) -> Room:
    """A room in the sun of a place ("51.48,-0.01") at a time ("2026-11-25T15:00"; "" is now)."""
    if not place:
        if time:
            raise UsageError(
                tr("--sun-time needs a place; give its degrees with --sun-place as well.")
            )
        return _room(room)
    when = parse_time(time) if time else datetime.now().astimezone()
    return room_in_sun(_room(room), parse_place(place), when)


def own_lights(setups: Sequence[Setup], kit: str, room: str | Room) -> tuple[Daylight | None, ...]:
    """For each set-up the light that stays, with what its place fills; None for one of the kit."""
    gear, place = _kit(kit), _room(room)
    return tuple(own_light(gear, place, setup) for setup in setups)


def write_plan(
    made: Plan,
    sitter: Sitter,
    folder: Path,
    *,
    kit: str = "",
    room: str | Room = "",
    label: str = "",
    paper: str = "a4",
    discreet: bool = False,
    plain_head: bool = False,
    agreed: bool = False,
) -> list[Path]:
    """The plan file, and for each set-up its sheet as PDF and PNG; gives the paths.

    The sheets' pictures wear the sitter's own skin, unless ``plain_head`` or the frames are gone.
    Only with ``agreed``, the sitter's yes, does the plan file measure the face.
    """
    check_paper(paper)
    gear, place = _kit(kit), _room(room)
    sculpture, note = (Sculpture(sitter.head), "") if plain_head else own_skin(sitter)
    straight_on = sculpture.render(made.baseline, *PICTURE_PX)
    files: list[Path] = []
    printed = _captioned(made, sitter.head, sculpture, note)
    for planned in printed.setups:
        seen = sculpture.render(planned.setup, *PICTURE_PX)
        light = key_light(gear, place, planned.setup.key_size_mm)
        daylight = own_light(gear, place, planned.setup)
        more = _exposure(planned.setup, light, gear)
        for moves_only in (False, True) if discreet else (False,):
            name = f"{planned.name}-moves-only" if moves_only else planned.name
            files += [
                write_sheet(
                    planned,
                    printed,
                    seen,
                    straight_on,
                    folder / f"{name}{suffix}",
                    paper=paper,
                    discreet=moves_only,
                    sitter=label,
                    light=light.kind(),
                    daylight=daylight,
                    more=more,
                )
                for suffix in (".pdf", ".png")
            ]
    # The plan file comes last: where it is, the sheets are whole.
    path = folder / "plan.json"
    if agreed:
        return [save_plan(path, made, sitter.kept), *files]
    return [save_faceless_plan(path, made, sitter.source), *files]


def _exposure(setup: Setup, light: LightSource, kit: Kit) -> tuple[Setting, ...]:
    """The exposure, where the kit tells the light's power, and what lights the background."""
    exposure = expose(setup, light, kit.cameras[0])
    told: tuple[Setting, ...] = ()
    if exposure:
        told += (exposure_setting(exposure, light.kind()),)
    iso = exposure.iso if exposure else LOWEST_ISO
    rim = kit.light_for("rim", light) if setup.rim == "on" else None
    if setup.rim == "on":
        told += (rim_power_setting(setup, rim, iso),)
    lit = setup.background_light == "on"
    if light.stays() and not lit:  # the background is looked for, not lit
        return told
    own = kit.light_for("background", light, rim) if lit else None
    off_mm = setup.background_light_distance_mm
    return (*told, background_setting(setup, own=own, own_distance_mm=off_mm, iso=iso))


def own_skin(sitter: Sitter) -> tuple[Sculpture, str]:
    """The head for pictures in the sitter's own skin; plain, with a note, where it can't be had."""
    if sitter.reading.fit is None:  # a scanned head
        return Sculpture(sitter.head), ""
    try:
        return Sculpture(sitter.head, skin_from_frames(sitter.reading)), ""
    except (HeadError, PhotoError) as problem:
        return Sculpture(sitter.head), tr("The pictures show a plain head: {why}", why=str(problem))


def _captioned(made: Plan, head: Head, sculpture: Sculpture, note: str) -> Plan:
    """The plan with what its pictures show, cut and mirror among each set-up's notes."""
    worn = any(wears_glasses(planned) for planned in made.setups)

    def noted(planned: PlannedSetup) -> PlannedSetup:
        setup = planned.setup
        cut = joined(crop_faults(sculpture.look(setup)), "; ")
        said = (
            note or sculpture.caption(setup),
            tr(CUT, cut=cut) if cut else "",
            cure_words(clear_glare(head, setup, Glasses())) if worn else "",
        )
        return dataclasses.replace(planned, notes=tuple(filter(None, (*planned.notes, *said))))

    return dataclasses.replace(made, setups=tuple(noted(planned) for planned in made.setups))


def _kit(kit: str) -> Kit:
    return load_kit(kit) if kit else DEFAULT_KIT


def _room(room: str | Room) -> Room:
    if isinstance(room, Room):
        return room
    return load_room(room) if room else DEFAULT_ROOM
