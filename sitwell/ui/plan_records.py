"""A plan on the command line and the records: a head from last time, a yes, what is kept."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from sitwell.base.errors import StoreError, UsageError
from sitwell.base.words import mark, tr
from sitwell.brief.wishes import parse_wish
from sitwell.flow import Sitter
from sitwell.head.level import head_from_dict
from sitwell.head.reading import Reading
from sitwell.search.plan import Plan
from sitwell.sheet.settings import studio_words
from sitwell.store.days import day_words
from sitwell.store.records import Returning
from sitwell.store.sittings import Made, head_values
from sitwell.ui import say
from sitwell.ui.keeping import Door

NO_LEAVE = mark(
    "Nothing went into the records: '{label}' has given no leave yet; ask with: "
    "sitwell consent '{label}'."
)
NO_FACE = mark(
    "No yes is recorded, so plan.json holds no measure of the face and the head is read from the "
    "frames again when needed; the sheets show a likeness. sitwell forget --frames erases them."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Book:
    """The records as one plan needs them: whom it is for, and what they said yes to."""

    door: Door
    label: str
    agreed: bool

    @classmethod
    def of(cls, door: Door, label: str) -> "Book":
        """The book open at a label; without one the records stay closed."""
        return cls(door=door, label=label, agreed=bool(label) and door.may_measure(label))

    def sitter(self) -> Sitter:
        """The sitter as they were last time, told on standard error."""
        if not self.label:
            raise UsageError(
                tr(
                    "Give one to three test frames, a scan with --scan, or --sitter for "
                    "somebody whose head is in the records.",
                )
            )
        back = self._returning()
        if back.head is None:
            raise StoreError(
                tr(
                    "No head of '{label}' may be started from; give one to three test frames.",
                    label=self.label,
                )
            )
        day = day_words(back.head.at.date())
        say.note(tr("The head of '{label}' is that of {day}.", label=self.label, day=day))
        for used in back.worked:
            told = "; ".join(f"{word.name}: {word.value}" for word in studio_words(used.setup))
            day = day_words(used.at.date())
            say.note(tr("Worked on {day}: {name}. {told}", day=day, name=used.name, told=told))
        values = head_values(back.head)
        reading = Reading(frames=(), fit=None, notes=())
        return Sitter(reading=reading, head=head_from_dict(values), kept=values)

    def wishes(self, asked: Sequence[str], *, again: bool) -> list[str]:
        """What is asked for; with ``again`` and nothing asked, what was asked last time."""
        if asked or not again:
            return list(asked)
        last = self._returning().wishes
        if last is None:
            return []
        known = [f"{wish.feature}:{wish.direction}:{wish.weight}" for wish in last.wishes]
        say.note(tr("Wishes as last time: {wishes}; --wish asks anew.", wishes=", ".join(known)))
        return known

    def keep(self, made: Plan, sitter: Sitter, wishes: Sequence[str], files: list[Path]) -> None:
        """Keep what the sitter agreed to, or only note the files; says which."""
        if not self.agreed:
            if files:
                note_files(self.door, files)
                say.note(tr(NO_FACE))
            if self.label:
                say.note(tr(NO_LEAVE, label=self.label))
            return
        came = Made(
            wishes=tuple(parse_wish(wish) for wish in wishes),
            head=sitter.kept,
            plan=made,
            files=files,
        )
        kept = [tr(part) for part in self.door.keep(self.label, came)]
        kept += [tr("where the sheets are")] if files else []
        what = ", ".join(kept)
        say.note(tr("Kept in the records for '{label}': {what}.", label=self.label, what=what))

    def _returning(self) -> Returning:
        return self.door.returning(self.label)


def note_files(door: Door, files: Sequence[Path], label: str = "", what: str = "plan") -> None:
    """Note what was written for a sitter, or for nobody in the records, so that it can go again."""
    try:
        door.note_files(label, files, what)
    except OSError as error:  # the files are what was asked for, and they are there
        told = tr("The files could not be noted for forgetting ({why}).", why=error.strerror)
        say.note(told)
