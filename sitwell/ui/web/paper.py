"""One sitting's working papers: as values, and as the JSON that is kept of them."""

import dataclasses
import json
import re
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any, TypeVar, get_origin, get_type_hints

from sitwell.base.formats import named

SITTING_ID = re.compile(r"[0-9a-f]{12}")
FRAME_ID = re.compile(r"[0-9a-f]{8}")
# Our own choice: a day's grace for what was shot late, where nobody named another term.
USUAL_KEEP_DAYS = 1
LONGEST_KEEP = timedelta(days=4 * 366)  # far above any yes; what is longer is damage

T = TypeVar("T")


@dataclass(slots=True, kw_only=True)
class FrameNote:
    """One test frame: our copy in the sitting's folder, and what the photographer called it.

    ``marks`` are positions in full-size upright pixels by name, the ridge as a list of them;
    ``face`` is the one that was tapped where it shows several, from camera left, 0 where none was.
    """

    id: str
    file: str
    name: str
    width_px: int = 0
    height_px: int = 0
    marks: dict[str, Any] = field(default_factory=dict)
    face: int = 0


@dataclass(slots=True, kw_only=True)
class SitterNote:
    """One sitter: a label, their own yes, wishes (feature to direction and weight), frames."""

    label: str = ""
    consent_at: str = ""  # when they, or their guardian, said yes to being measured
    consent_by: str = "sitter"
    glasses: bool = False
    hair: str = "full"
    height_mm: float = 0.0  # of the body, 0 where nobody asked; counts where several stand together
    wishes: dict[str, list[Any]] = field(default_factory=dict)
    limits: list[str] = field(default_factory=list)
    frames: list[FrameNote] = field(default_factory=list)
    # The set-up in hand: which of the three, what was moved by hand, what is held fast.
    chosen: str = ""
    moved: dict[str, dict[str, Any]] = field(default_factory=dict)
    locked: list[str] = field(default_factory=list)
    # What is said to lie over the face, and what is not, whatever the frames seem to show.
    in_the_way: list[str] = field(default_factory=list)
    without: list[str] = field(default_factory=list)
    # Frames that look unlike were said to be one person's.
    one_person: bool = False
    # The frame that is the sitter's own level zero, taken by the tool until somebody says which.
    level: str = ""
    level_said: bool = False
    # What the plan was made from.
    planned: str = ""
    head_of: str = ""


@dataclass(slots=True, kw_only=True)
class Sitting:
    """One sitting's working papers; times are UTC in ISO form.

    ``day`` is that of the sitting itself, where it is another than the one it was begun on, and
    ``keep_days`` counts from it.
    """

    id: str
    revision: int = 0
    created: str = ""
    label: str = ""
    day: str = ""
    keep_days: int = USUAL_KEEP_DAYS
    keep_wishes: bool = False
    asked: list[str] = field(default_factory=list)
    kit: str = "full-frame-primes"
    rim_light: bool = False
    room: str = "studio"
    own_kit: dict[str, Any] = field(default_factory=dict)
    own_room: dict[str, Any] = field(default_factory=dict)
    framing: str = "head-and-shoulders"
    aspect: str = "4:5"
    sitters: list[SitterNote] = field(default_factory=lambda: [SitterNote()])
    at: int = 0
    # What several wish about their difference in height: direction and weight.
    heights: list[Any] = field(default_factory=lambda: ["leave", 2])
    folder: str = ""

    @property
    def sitter(self) -> SitterNote:
        """The sitter in hand."""
        return self.sitters[min(self.at, len(self.sitters) - 1)]

    @property
    def consent_at(self) -> str:
        """When the sitter in hand said yes; empty where they did not."""
        return self.sitter.consent_at

    @property
    def everybody_agreed(self) -> bool:
        """Whether each sitter has said their own yes, which frames of all of them need."""
        return all(sitter.consent_at for sitter in self.sitters)

    @property
    def begun_on(self) -> date:
        """The day the sitting was begun, here."""
        return datetime.fromisoformat(self.created).astimezone().date()

    @property
    def on(self) -> date:
        """The day of the sitting itself."""
        return date.fromisoformat(self.day) if self.day else self.begun_on

    @property
    def keep_until(self) -> date:
        """The last day these papers are kept."""
        return self.on + timedelta(self.keep_days)

    @property
    def keep_wishes_until(self) -> date:
        """The last day the wishes are kept: without leave for longer, the usual one."""
        if self.keep_wishes:
            return self.keep_until
        return min(self.keep_until, self.on + timedelta(USUAL_KEEP_DAYS))

    def title(self) -> str:
        """What the sitting is called, or the day it was begun."""
        day = datetime.fromisoformat(self.created).astimezone()
        return self.label or f"{day:%Y-%m-%d %H:%M}"

    def is_called(self, label: str) -> bool:
        """Whether the sitting or one of its sitters is called so, whatever the capitals."""
        names = [self.title(), *(sitter.label for sitter in self.sitters)]
        return folded(label) in map(folded, names)


def folded(label: str) -> str:
    """A label without its capitals and idle spaces."""
    return " ".join(label.split()).casefold()


def now() -> str:
    """This moment, in UTC."""
    return datetime.now(UTC).isoformat(timespec="seconds")


def to_text(sitting: Sitting) -> str:
    """The papers as JSON."""
    papers = named("sitting papers", dataclasses.asdict(sitting))
    return json.dumps(papers, ensure_ascii=False, indent=1)


def from_text(text: str, sitting_id: str) -> Sitting:
    """The papers again; ValueError where they are damaged in any way."""
    try:
        sitting = _sitting(json.loads(text))
        if sitting.id != sitting_id or sitting.at < 0:
            raise ValueError("another sitting's papers")
        if sitting.keep_days < 0 or sitting.keep_until > sitting.begun_on + LONGEST_KEEP:
            raise ValueError(f"kept until {sitting.keep_until}")
    except (KeyError, TypeError, AttributeError, OverflowError, RecursionError) as error:
        raise ValueError(str(error)) from error
    return sitting


def _sitting(plain: dict[str, Any]) -> Sitting:
    if "consent_at" in plain and plain["sitters"]:
        # Papers of an earlier version held one yes for all: it is the first sitter's, and the
        # others are asked for their own.
        plain["sitters"][0].setdefault("consent_at", plain["consent_at"])
        plain["sitters"][0].setdefault("consent_by", plain.get("consent_by", "sitter"))
    sitters = [_sitter(row) for row in plain.pop("sitters")]
    return _made(Sitting, plain, sitters=sitters or [SitterNote()])


def _sitter(plain: dict[str, Any]) -> SitterNote:
    frames = [_frame(row) for row in plain.pop("frames")]
    plain.setdefault("level_said", bool(plain.get("level")))  # papers of an earlier version
    sitter = _made(SitterNote, plain, frames=frames)
    if not all(isinstance(wish, list) and len(wish) == 2 for wish in sitter.wishes.values()):
        raise ValueError("a wish")
    if not all(isinstance(moves, dict) for moves in sitter.moved.values()):
        raise ValueError("what was moved")
    return sitter


def _frame(plain: dict[str, Any]) -> FrameNote:
    frame = _made(FrameNote, plain)
    if not FRAME_ID.fullmatch(frame.id) or Path(frame.file).name != frame.file:
        raise ValueError(f"the frame '{frame.id}'")
    return frame


def _made(kind: type[T], plain: dict[str, Any], **given: Any) -> T:
    """A value of what both versions know, each field of its own kind."""
    hints = get_type_hints(kind)
    known = {name: value for name, value in plain.items() if name in hints and name not in given}
    for name, value in known.items():
        wanted = get_origin(hints[name]) or hints[name]
        fits = isinstance(value, (int, float) if wanted is float else wanted)
        if not fits or (isinstance(value, bool) and wanted is not bool):
            raise ValueError(f"'{name}'")
    return kind(**known, **given)
