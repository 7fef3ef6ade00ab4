"""A plan on the command line and the records: a head from last time, a yes, what is kept."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from sitwell.base.words import mark, tr
from sitwell.brief.request import Brief, SitterBrief
from sitwell.flow import SittingPlan
from sitwell.scene.sitter import Sitter, sitter_kept
from sitwell.sheet.settings import studio_words
from sitwell.store.days import day_words
from sitwell.store.sittings import Made, head_values
from sitwell.ui import say
from sitwell.ui.records_door import Door, kept_head

NO_LEAVE = mark(
    "Nothing went into the records: '{label}' has not said yes yet; ask with: "
    "sitwell consent '{label}'."
)
NO_FACE = mark(
    "No yes is recorded, so plan.json holds no measure of the face and the head is read from the "
    "frames again when needed; the sheets show a likeness. sitwell forget --frames erases them."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Book:
    """The records as one plan needs them: whom it is for, and what they said yes to.

    Several sitters at once are not kept there.
    """

    door: Door
    label: str
    agreed: bool

    @classmethod
    def of(cls, door: Door, brief: Brief) -> "Book":
        """The book open at a lone sitter's label; without one the records stay closed."""
        label = brief.labels[0] if len(brief.sitters) == 1 else ""
        return cls(door=door, label=label, agreed=bool(label) and door.may_measure(label))

    def sitter(self, asked: SitterBrief) -> Sitter:
        """The sitter as they were last time, told on standard error."""
        back = self.door.returning(asked.record)
        head = kept_head(back)
        day = day_words(head.at.date())
        say.note(tr("The head of '{label}' is that of {day}.", label=asked.record, day=day))
        for used in back.worked:
            told = "; ".join(f"{word.name}: {word.value}" for word in studio_words(used.setup))
            day = day_words(used.at.date())
            say.note(tr("Worked on {day}: {name}. {told}", day=day, name=used.name, told=told))
        return sitter_kept(head_values(head), asked)

    def with_wishes(self, brief: Brief) -> Brief:
        """The brief with what was asked for last time, where its sitters come back and ask none."""
        return replace(brief, sitters=tuple(map(self._wishing, brief.sitters)))

    def _wishing(self, sitter: SitterBrief) -> SitterBrief:
        last = self.door.returning(sitter.record).wishes if sitter.record else None
        if sitter.wishes or last is None:
            return sitter
        known = ", ".join(map(str, last.wishes))
        say.note(tr("Wishes as last time: {wishes}; --wish asks anew.", wishes=known))
        return replace(sitter, wishes=last.wishes)

    def keep(self, made: SittingPlan, files: list[Path]) -> None:
        """Keep what the sitter agreed to, or only note the files; says which."""
        if not self.agreed:
            if files:
                note_files(self.door, files)
                say.note(tr(NO_FACE))
            if self.label:
                say.note(tr(NO_LEAVE, label=self.label))
            return
        came = Made(
            wishes=made.brief.sitters[0].wishes,
            head=made.sitters[0].kept,
            plan=made.found.parts[0],
            files=files,
        )
        kept = [tr(part) for part in self.door.keep(self.label, came)]
        kept += [tr("where the sheets are")] if files else []
        what = ", ".join(kept)
        say.note(tr("Kept in the records for '{label}': {what}.", label=self.label, what=what))


def note_files(door: Door, files: Sequence[Path], label: str = "", what: str = "plan") -> None:
    """Note what was written for a sitter, or for nobody in the records, so that it can go again."""
    try:
        door.note_files(label, files, what)
    except OSError as error:  # the files are what was asked for, and they are there
        told = tr("The files could not be noted for forgetting ({why}).", why=error.strerror)
        say.note(told)
