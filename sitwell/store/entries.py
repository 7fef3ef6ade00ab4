"""What the records hold: plain frozen values, each with its own number and its sitter's.

A head is kept as named numbers, so that this folder need not know how a head is built.
Times carry their zone; ``keep_until`` is a day in the photographer's own calendar.
"""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from sitwell.base.errors import ConsentError, StoreError
from sitwell.base.words import tr
from sitwell.brief.wishes import Wish
from sitwell.scene.setup import Setup
from sitwell.search.plan import Plan

MEASUREMENTS = "measurements"
WISHES = "wishes"
CROPS = "crops"
PURPOSES = (MEASUREMENTS, WISHES, CROPS)
GIVERS = ("sitter", "guardian")
RATINGS = (-1, 0, 1, 2, 3, 4, 5)
# 740 ILCS 14/15(a), as read: destroyed within three years at the latest. We take it as our own
# limit everywhere, so that keeping longer means asking again.
LONGEST_TERM_YEARS = 3


def new_id() -> str:
    """A random number for a record; it says nothing about whom it belongs to."""
    return uuid.uuid4().hex


def now() -> datetime:
    """This moment, in the photographer's own time zone."""
    return datetime.now().astimezone()


@dataclass(frozen=True, slots=True, kw_only=True)
class Sitter:
    """A sitter under a label of the photographer's choice; a number or initials will do."""

    label: str
    note: str = ""
    child: bool = False  # said by the photographer, never guessed
    at: datetime = field(default_factory=now)
    id: str = field(default_factory=new_id)

    def __post_init__(self) -> None:
        """Refuse a label that can't be called for again."""
        if not self.label.strip():
            raise StoreError(tr("The sitter's label is empty; give a name, a number or initials."))
        _check_zone("at", self.at)


@dataclass(frozen=True, slots=True, kw_only=True)
class Consent:
    """A yes to keeping one kind of thing until a day, and the notice that was shown.

    ``purpose`` is measurements, wishes or crops; ``by`` is sitter or guardian.
    """

    sitter_id: str
    purpose: str
    keep_until: date
    notice: str
    by: str = "sitter"
    guardian: str = ""
    withdrawn_at: datetime | None = None
    at: datetime = field(default_factory=now)
    id: str = field(default_factory=new_id)

    def __post_init__(self) -> None:
        """Refuse a yes that says too little to be one."""
        _check_zone("at", self.at)
        if self.purpose not in PURPOSES:
            raise ConsentError(
                tr(
                    "Consent to '{purpose}' is not known; ask for {known}.",
                    purpose=self.purpose,
                    known=", ".join(PURPOSES),
                )
            )
        if self.by not in GIVERS:
            raise ConsentError(
                tr("Consent by '{by}' is not known; say sitter or guardian.", by=self.by)
            )
        if self.by == "guardian" and not self.guardian.strip():
            raise ConsentError(tr("The guardian's name is empty; write down who said yes."))
        if not self.notice.strip():
            raise ConsentError(tr("The notice is empty; record the words that were shown."))
        if self.keep_until < self.at.date():
            raise ConsentError(
                tr(
                    "Keeping until {keep_until} ends before the yes of {date}; give a later day.",
                    keep_until=self.keep_until,
                    date=self.at.date(),
                )
            )
        if self.keep_until > add_years(self.at.date(), LONGEST_TERM_YEARS):
            raise ConsentError(
                tr(
                    "Keeping until {keep_until} is longer than {longest_term_years} years; give "
                    "an earlier day and ask again then.",
                    keep_until=self.keep_until,
                    longest_term_years=LONGEST_TERM_YEARS,
                )
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Sitting:
    """One session with one sitter; in a group each has their own."""

    sitter_id: str
    title: str = ""
    note: str = ""
    at: datetime = field(default_factory=now)
    id: str = field(default_factory=new_id)

    def __post_init__(self) -> None:
        """Refuse a moment without its zone."""
        _check_zone("at", self.at)


@dataclass(frozen=True, slots=True, kw_only=True)
class _InSitting:
    """What belongs to one sitting of one sitter."""

    sitter_id: str
    sitting_id: str
    at: datetime = field(default_factory=now)
    id: str = field(default_factory=new_id)

    def __post_init__(self) -> None:
        """Refuse a moment without its zone."""
        _check_zone("at", self.at)


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptWishes(_InSitting):
    """What the sitter asked for, and the photographer's note; it may say something of health."""

    wishes: tuple[Wish, ...]
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptHead(_InSitting):
    """The sitter's own head as named numbers.

    ``shape`` in units of each slider, ``expression`` 0..1; ``level_frame`` is what their own level
    frame reads, each number under a name with its unit; ``arrays`` is anything else that the fit
    wants back (marks, spreads), again by name.
    """

    shape: Mapping[str, float]
    expression: Mapping[str, float] = field(default_factory=dict)
    level_frame: Mapping[str, float] = field(default_factory=dict)
    arrays: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptPlan(_InSitting):
    """A whole plan with its measures and the wishes it answers."""

    plan: Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class UsedSetup(_InSitting):
    """A set-up that was really shot, and whether it worked (None: not said)."""

    name: str
    setup: Setup
    worked: bool | None = None
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptFrame(_InSitting):
    """One photograph by its path: what it measured, and what the person chose.

    ``rating`` is -1 (rejected) to 5, None where nobody rated; ``chosen`` marks the sitter's or
    photographer's pick. The photograph itself is never kept here.
    """

    path: str
    setup_name: str = ""
    measures: Mapping[str, float] = field(default_factory=dict)
    rating: int | None = None
    chosen: bool = False
    note: str = ""

    def __post_init__(self) -> None:
        """Refuse a rating that no raw editor reads."""
        _check_zone("at", self.at)
        if self.rating is not None and self.rating not in RATINGS:
            raise StoreError(
                tr("The rating {rating} is not known; give -1, or 0 to 5.", rating=self.rating)
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Crop(_InSitting):
    """A small picture cut from a photograph, as PNG."""

    name: str
    png: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class OurFile:
    """A file that Sitwell wrote for a sitter outside the records; forgetting removes it.

    ``sha256`` is that of what we wrote: a file that somebody changed since is not ours alone.
    """

    sitter_id: str
    what: str
    path: str
    sha256: str
    at: datetime = field(default_factory=now)
    id: str = field(default_factory=new_id)


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptKit:
    """A kit under its name, as plain data."""

    name: str
    content: Mapping[str, Any]
    at: datetime = field(default_factory=now)
    id: str = field(default_factory=new_id)


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptRoom:
    """A room under its name, as plain data."""

    name: str
    content: Mapping[str, Any]
    at: datetime = field(default_factory=now)
    id: str = field(default_factory=new_id)


Sat = KeptWishes | KeptHead | KeptPlan | UsedSetup | KeptFrame | Crop
Kept = Sitter | Consent | Sitting | Sat | OurFile | KeptKit | KeptRoom


def add_years(day: date, years: int) -> date:
    """The same day so many years later; 29 February becomes the 28th where there is none."""
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return day.replace(year=day.year + years, day=28)


def _check_zone(name: str, moment: datetime) -> None:
    if moment.tzinfo is None:
        raise StoreError(
            tr(
                "The moment {name} {isoformat} has no time zone; give one.",
                name=name,
                isoformat=moment.isoformat(),
            )
        )
