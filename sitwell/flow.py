"""The whole tool on one screen: read, plan, print; check and sort follow in their own folders."""

import dataclasses
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sitwell.base.errors import HeadError, PhotoError, UsageError
from sitwell.brief.comfort import comfort_for
from sitwell.brief.kit import DEFAULT_KIT, Kit, load_kit
from sitwell.brief.marks import read_marks
from sitwell.brief.room import DEFAULT_ROOM, Room, load_room
from sitwell.brief.wishes import parse_wish
from sitwell.head.level import head_as_dict, level_head
from sitwell.head.reading import Reading, read_photos
from sitwell.head.surface import Head
from sitwell.scene.glasses_measures import Glasses
from sitwell.scene.measures import Evaluator
from sitwell.scene.preview import Sculpture
from sitwell.scene.scan import Scan
from sitwell.scene.setup import Setup
from sitwell.scene.skin_merge import skin_from_frames
from sitwell.search.locks import parse_locks
from sitwell.search.plan import Plan, PlannedSetup
from sitwell.search.planner import make_plan
from sitwell.sheet.pdf import check_paper, write_sheet
from sitwell.sheet.plan_file import save_plan

Progress = Callable[[float, str], None]
PICTURE_PX = (960, 1200)

__all__ = ["check_paper", "light_kind", "picture", "plan", "read", "sitter_of", "write_plan"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sitter:
    """A sitter as read: the reading, their head with their own zero, and what rebuilds it."""

    reading: Reading
    head: Head
    kept: dict[str, Any]


def read(
    photos: Sequence[Path],
    *,
    marks: Path | None = None,
    level: Path | None = None,
    **known: Any,
) -> Reading:
    """Photographs to what they show; see ``read_photos`` for what may be ``known`` besides."""
    return read_photos(
        photos,
        marks=read_marks(marks) if marks else None,
        level=_place_of(level, photos) if level else None,
        **known,
    )


def sitter_of(reading: Reading) -> Sitter:
    """The sitter's head with their own zero; FaceError where no face was read."""
    head = reading.require_head()
    neutral = next(frame.neutral for frame in reading.frames if frame.fitted is not None)
    return Sitter(reading=reading, head=level_head(head, neutral), kept=head_as_dict(head, neutral))


def sitter_from_scan(scan: Scan) -> Sitter:
    """A scanned head as a sitter; what is kept of it is the nearest parametric head."""
    return Sitter(
        reading=Reading(frames=(), fit=None, notes=scan.notes),
        head=scan.head,
        kept=head_as_dict(scan.head, np.eye(3)),
    )


def plan(
    head: Head,
    *,
    wishes: Sequence[str] = (),
    kit: str = "",
    room: str = "",
    limits: Sequence[str] = (),
    locks: Sequence[str] = (),
    framing: str = "head-and-shoulders",
    aspect: str = "4:5",
    glasses: bool = False,
    progress: Progress | None = None,
) -> Plan:
    """A head and wishes to three set-ups, in the words of the command line.

    A wish for the glasses says that they are worn; ``glasses`` says it without a wish.
    """
    asked = [parse_wish(wish) for wish in wishes]
    worn = glasses or any(wish.feature == "glasses" for wish in asked)
    return make_plan(
        Evaluator(head, Glasses() if worn else None),
        asked,
        load_kit(kit) if kit else DEFAULT_KIT,
        load_room(room) if room else DEFAULT_ROOM,
        comfort_for(limits),
        framing,
        aspect,
        locked=parse_locks(locks),
        progress=progress,
    )


def write_plan(
    made: Plan,
    sitter: Sitter,
    folder: Path,
    *,
    label: str = "",
    paper: str = "a4",
    discreet: bool = False,
    light: str = "",
    plain_head: bool = False,
) -> list[Path]:
    """The plan file, and for each set-up its sheet as PDF and PNG; gives the paths.

    The sheets' pictures wear the sitter's own skin, unless ``plain_head`` or the frames are gone.
    """
    check_paper(paper)
    sculpture, note = (Sculpture(sitter.head), "") if plain_head else own_skin(sitter)
    straight_on = sculpture.render(made.baseline, *PICTURE_PX)
    files: list[Path] = []
    printed = _captioned(made, sculpture, note)
    for planned in printed.setups:
        seen = sculpture.render(planned.setup, *PICTURE_PX)
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
                    light=light,
                )
                for suffix in (".pdf", ".png")
            ]
    # The plan file comes last: where it is, the sheets are whole.
    return [save_plan(folder / "plan.json", made, sitter.kept), *files]


def own_skin(sitter: Sitter) -> tuple[Sculpture, str]:
    """The head for pictures in the sitter's own skin; plain, with a note, where it can't be had."""
    if sitter.reading.fit is None:  # a scanned head
        return Sculpture(sitter.head), ""
    try:
        return Sculpture(sitter.head, skin_from_frames(sitter.reading)), ""
    except (HeadError, PhotoError) as problem:
        return Sculpture(sitter.head), f"The pictures show a plain head: {problem}"


def picture(head: Head, setup: Setup, width_px: int, height_px: int) -> NDArray[np.uint8]:
    """The head as the camera will see it in a set-up, (H, W, 3)."""
    return Sculpture(head).render(setup, width_px, height_px)


def _captioned(made: Plan, sculpture: Sculpture, note: str) -> Plan:
    """The plan with a sentence on each set-up's picture among its notes."""

    def noted(planned: PlannedSetup) -> PlannedSetup:
        said = note or sculpture.caption(planned.setup)
        return dataclasses.replace(planned, notes=tuple(filter(None, (*planned.notes, said))))

    return dataclasses.replace(made, setups=tuple(noted(planned) for planned in made.setups))


def key_kind(kit: str, room: str) -> str:
    """What the key of a kit and room as typed is, for the care notes."""
    return light_kind(
        load_kit(kit) if kit else DEFAULT_KIT, load_room(room) if room else DEFAULT_ROOM
    )


def light_kind(kit: Kit, room: Room) -> str:
    """What the key is, for the care notes: "window", "flash" or "lamp"."""
    if room.window is not None or all(light.is_fixed() for light in kit.lights):
        return "window"
    return "flash" if any(light.exposure_value is None for light in kit.lights) else "lamp"


def _place_of(level: Path, photos: Sequence[Path]) -> int:
    names = [Path(photo).name for photo in photos]
    if level.name not in names:
        raise UsageError(
            f"The level frame '{level.name}' is not among the photographs; name one of "
            f"{', '.join(names)}."
        )
    return names.index(level.name)
