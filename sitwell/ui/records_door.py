"""The one door to the records, for the commands and the pages alike.

Each method opens the records, does one thing and closes them, so that a window that stays open
holds nobody else up; opening also erases what had come to its end.
"""

import contextlib
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from sitwell.base.errors import StoreError, TransferError
from sitwell.base.files import write_atomically
from sitwell.base.words import mark, renamed, tr
from sitwell.scene.setup import Setup
from sitwell.store import backups, erase, restore, sealing, sittings, transfer
from sitwell.store.entries import MEASUREMENTS, KeptHead, Sitting
from sitwell.store.files import remember_file, sheets_of
from sitwell.store.opening import are_sealed, open_records
from sitwell.store.pending import Pending
from sitwell.store.places import PART, Places, make_places
from sitwell.store.records import Found, Records, Returning
from sitwell.store.reports import still_there
from sitwell.store.sealed import Seal
from sitwell.store.sittings import Made, Yes
from sitwell.store.unrecorded import forget_loose, may_be_theirs, note_loose, sweep_readings
from sitwell.ui.web.documents import Shelf

PAPERS_GONE = mark("the papers on the table of '{title}': frames, marks, plan and drawn sheets")

MAY_BE_THEIRS = mark(
    "{path}: papers too damaged to tell whose they are; erase them on the first page of the pages."
)


def kept_head(back: Returning) -> KeptHead:
    """The head that a sitter left; StoreError where there is none, or no yes to it."""
    if back.head is None:
        raise StoreError(
            tr(
                "No head of '{label}' may be started from; give one to three test frames.",
                label=back.sitter.label,
            )
        )
    return back.head


@dataclass(frozen=True, slots=True, kw_only=True)
class SitterLine:
    """One sitter in the records: their label, until when, how many sittings, what worked last."""

    label: str
    keep_until: date | None
    sittings: int
    worked: tuple[str, ...] = ()
    head: bool = False


@dataclass(slots=True, kw_only=True)
class Door:
    """Where the records lie, and how their passphrase is had: known, or asked for by ``ask``.

    ``home`` and ``papers``, the pages' working papers, have their usual places without one.
    """

    home: Path | None = None
    papers: Path | None = None
    passphrase: str = ""
    ask: Callable[[], str] | None = None

    def open(self) -> Records:
        """The records, to be closed by whoever asked."""
        return open_records(self.home, passphrase=self._words)

    def record_yes(self, label: str, yes: Yes) -> None:
        """Write down a yes that was given."""
        with self.open() as records:
            sittings.record_yes(records, label, yes)

    def may_measure(self, label: str) -> bool:
        """Whether a sitter of this label has said yes to their face being measured and kept."""
        with self.open() as records:
            sitter = records.known(label)
            return sitter is not None and MEASUREMENTS in records.agreed(sitter)

    def keep(self, label: str, made: Made) -> tuple[str, ...]:
        """Keep what the sitter agreed to; names what that was."""
        with self.open() as records:
            return sittings.keep_sitting(records, records.sitter(label), made)

    def note_used(
        self, label: str, name: str, setup: Setup | None, *, worked: bool, note: str
    ) -> None:
        """Note that a set-up was shot, and whether it worked."""
        with self.open() as records:
            sitter = records.sitter(label)
            sittings.note_used(records, sitter, name, setup, worked=worked, note=note)

    def returning(self, label: str) -> Returning:
        """What to start from when a sitter comes back."""
        with self.open() as records:
            return records.returning(records.sitter(label))

    def head(self, label: str) -> KeptHead:
        """The head to start from when a sitter comes back; StoreError where none may be used."""
        return kept_head(self.returning(label))

    def sitters(self) -> tuple[SitterLine, ...]:
        """Everybody in the records."""
        with self.open() as records:
            return tuple(self._line(records, sitter.label) for sitter in records.sitters())

    def search(self, text: str) -> tuple[tuple[str, Found], ...]:
        """Whose record each hit is (empty for a kit or room), and the hit."""
        with self.open() as records:
            labels = {sitter.id: sitter.label for sitter in records.sitters()}
            return tuple(
                (labels.get(getattr(hit.record, "sitter_id", hit.record.id), ""), hit)
                for hit in records.search(text)
            )

    def forget(self, label: str, shelf: Shelf | None = None) -> tuple[str, ...]:
        """Erase all that is kept of a sitter, backups and papers included; gives the report.

        ``shelf`` is where the papers lie, for a server that holds them open.
        """
        with self.open() as records:
            shelf = shelf or self._shelf(records.seal)
            papers, left = _erase_papers(shelf, label)
            left += still_there(may_be_theirs(records.places, label), ())
            if (papers or left) and records.known(label) is None:
                first = tr("Erased of {label} ({what}):", label=label, what=tr("everything"))
                return (first, *papers, *left)
            first, *rest = erase.forget(records, records.sitter(label)).lines()
        return (first, *papers, *rest, *left)

    def still_to_erase(self) -> tuple[str, ...]:
        """Try again what was to be erased; a sentence for each thing that would not go yet."""
        folders = self._places().home, self.papers or self._places().papers
        lists = [Pending(folder) for folder in folders]
        for pending in lists:
            pending.retry()
        return tuple(sentence for pending in lists for sentence in pending.sentences())

    def withdraw(self, label: str, purpose: str) -> tuple[str, ...]:
        """End one yes and erase what was kept under it; gives the report."""
        with self.open() as records:
            return erase.withdraw(records, records.sitter(label), purpose).lines()

    def sweep(self, at: datetime | None = None) -> None:
        """Erase what has come to its end by ``at`` (default: now); opening does it."""
        open_records(self.home, passphrase=self._words, at=at).close()

    # Files

    def note_files(self, label: str, files: Sequence[Path], what: str) -> None:
        """Note files that were written for a sitter, or without a label for nobody in the records.

        Forgetting them, or ``forget_loose``, erases these files too.
        """
        if not label:
            note_loose(self._places(), files)
            return
        with self.open() as records:
            sitter = records.sitter(label)
            for path in files:
                remember_file(records, sitter, path, what)

    def forget_loose(self) -> tuple[str, ...]:
        """Erase readings, plans and sheets that belong to no one sitter; gives the report."""
        places = self._places()
        names = [str(path.relative_to(places.home)) for path in places.frames.glob("*")]
        readings = Pending(places.home).erase(names)
        removal = forget_loose(places)
        return (
            tr("Erased {count} files with readings of frames.", count=readings.files),
            *(tr("Erased {path}", path=path) for path in removal.removed),
            *still_there(readings.left + removal.left, removal.not_ours),
        )

    @contextlib.contextmanager
    def frames_folder(self, label: str) -> Iterator[Path]:
        """Where readings of a folder's frames are kept: the sitter's place, or the common one."""
        if not label:
            places = self._places()
            sweep_readings(places)
            folder = places.frames
            folder.mkdir(mode=0o700, exist_ok=True)
        else:
            with self.open() as records:
                folder = records.cache_folder(records.sitter(label))
        yield folder

    def export(self, label: str, out: Path | None, *, every: bool = False) -> tuple[Path, ...]:
        """Write the latest sitting of a sitter, or each, to a file of its own with its sheets."""
        with self.open() as records:
            sitter = records.sitter(label)
            chosen: tuple[Sitting, ...] = records.all(Sitting, sitter)
            if not chosen:
                raise StoreError(
                    tr("No sitting of '{label}' is in the records.", label=sitter.label)
                )
            folder = out if out and (every or out.is_dir()) else None
            if out and not folder and out.exists():
                raise StoreError(
                    tr("'{out}' is there already; name another file, or a folder.", out=out)
                )
            return tuple(
                transfer.export_sitting(
                    records,
                    sitting,
                    folder / transfer.file_name(sitting) if folder else out,
                    sheets=sheets_of(records, sitting),
                )
                for sitting in (chosen if every else chosen[-1:])
            )

    def take_in(
        self, path: Path, label: str | None, out: Path | None
    ) -> tuple[transfer.TakenIn, tuple[Path, ...]]:
        """Take in an exported sitting; with ``out`` its sheets are written there and noted."""
        with self.open() as records:
            taken = transfer.import_sitting(records, path, label=label)
            written = _write_sheets(out, taken.sheets) if out else ()
            for sheet in written:
                remember_file(records, taken.sitter, sheet, "plan")
            return taken, written

    def take_in_bytes(self, content: bytes, name: str) -> str:
        """Take in an exported sitting that came as bytes, of a file called so; gives the label."""
        with tempfile.TemporaryDirectory(prefix=PART, dir=self._places().home) as folder:
            path = Path(folder) / "sent.sitting.zip"
            path.write_bytes(content)
            try:
                return self.take_in(path, None, None)[0].sitter.label
            except TransferError as error:
                raise TransferError(renamed(str(error), {str(path): name})) from error

    def back_up(self, folder: Path | None) -> Path:
        """Copy the records, while they may be in use."""
        with self.open() as records:
            return backups.back_up(records, folder)

    def backups(self) -> tuple[Path, ...]:
        """The backups in our own folder, newest first."""
        return tuple(sorted(self._places().backups.glob("records-*.sqlite"), reverse=True))

    def restore(
        self,
        backup: Path,
        passphrase: Callable[[], str] | str | None = None,
        shelf: Shelf | None = None,
    ) -> Path:
        """Go back to a backup; gives where the records of before were backed up."""
        with self.open() as records:
            # The backup may hold another seal, under which the papers could not be read again.
            if records.seal is not None:
                (shelf or self._shelf(records.seal)).lay_all_out()
            return restore.restore(records, backup, passphrase=passphrase)

    def seal(self, passphrase: str, shelf: Shelf | None = None) -> tuple[str, ...]:
        """Seal records and papers, or change the passphrase.

        Gives a sentence for what is not sealed.
        """
        with self.open() as records:
            left = sealing.set_passphrase(records, passphrase)
            (shelf or self._shelf(None)).take_seal(records.seal)
        self.passphrase = passphrase
        return left

    def is_sealed(self) -> bool:
        """Whether a passphrase is needed; told without one."""
        return are_sealed(self.home)

    def open_seal(self) -> Seal | None:
        """The seal of the records, or None where they have none; SealError without the words."""
        with self.open() as records:
            return records.seal

    def _words(self) -> str:
        if not self.passphrase and self.ask:
            self.passphrase = self.ask()  # once, however often the records are opened
        return self.passphrase

    def _shelf(self, seal: Seal | None) -> Shelf:
        return Shelf(self.papers or self._places().papers, seal)

    def _places(self) -> Places:
        return make_places(self.home)

    def _line(self, records: Records, label: str) -> SitterLine:
        sitter = records.sitter(label)
        back = records.returning(sitter)
        return SitterLine(
            label=sitter.label,
            keep_until=records.keep_until(sitter),
            sittings=len(records.all(Sitting, sitter)),
            worked=tuple(dict.fromkeys(used.name for used in back.worked)),
            head=back.head is not None,
        )


def _erase_papers(shelf: Shelf, label: str) -> tuple[list[str], tuple[str, ...]]:
    """Erase the papers of everybody called so; a line for each sitting, and for what is left."""
    said, left = [], list[str]()
    for sitting in shelf.of_label(label):
        gone = shelf.erase(sitting.id)
        left += gone.left
        if not gone.left:  # what would not go is never told as gone
            said.append("  " + tr(PAPERS_GONE, title=sitting.title()))
    for damaged in shelf.damaged_of(label):
        gone = shelf.erase(damaged.id)
        left += gone.left
        if not gone.left:
            said.append("  " + tr("damaged papers of that name in {path}", path=damaged.path))
    left += [tr(MAY_BE_THEIRS, path=damaged.path) for damaged in shelf.damaged()]
    return said, still_there(left, ())


def _write_sheets(folder: Path, sheets: Mapping[str, bytes]) -> tuple[Path, ...]:
    taken = [name for name in sheets if (folder / name).exists()]
    if taken:
        raise StoreError(
            tr(
                "The sheet '{sheet}' is in '{folder}' already; name another folder for the sheets.",
                sheet=taken[0],
                folder=folder,
            )
        )
    return tuple(write_atomically(folder / name, content) for name, content in sheets.items())
