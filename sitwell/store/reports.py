"""What an erasure did, said in full: what went, what is left, and what is not ours to erase."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from sitwell.base.words import mark, tr

_WORDS = {
    "sitters": mark("label and note"),
    "consents": mark("consents"),
    "sittings": mark("sittings"),
    "wishes": mark("notes on wishes"),
    "heads": mark("heads and level frames"),
    "plans": mark("plans with measures"),
    "setups": mark("set-ups used"),
    "frames": mark("frame checks and choices"),
    "crops": mark("pictures cut from photographs"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ErasureReport:
    """What one erasure did; ``label`` is who asked, for the print-out only and kept nowhere.

    ``left`` holds a sentence for each thing that could not be erased yet and says what to do;
    ``not_ours`` for each thing that is the photographer's or the system's to erase.
    """

    label: str
    purpose: str = ""  # "" = everything
    rows: Mapping[str, int] = field(default_factory=dict)
    files: tuple[str, ...] = ()
    cached_files: int = 0
    backups: tuple[str, ...] = ()
    left: tuple[str, ...] = ()
    not_ours: tuple[str, ...] = ()

    @property
    def complete(self) -> bool:
        """Whether all that is ours is gone."""
        return not self.left

    def lines(self) -> tuple[str, ...]:
        """The report to print, line by line."""
        what = self.purpose or tr("everything")
        found = [f"  {n} x {tr(_WORDS[table])}" for table, n in self.rows.items() if n]
        found += ["  " + tr("file {path}", path=path) for path in self.files]
        if self.cached_files:
            found.append("  " + tr("{count} cached files", count=self.cached_files))
        found += ["  " + tr("and from the backup {path}", path=path) for path in self.backups]
        return (
            tr("Erased of {label} ({what}):", label=self.label, what=what),
            *(found or ["  " + tr("nothing was kept")]),
            "  " + tr("The log names no sitter, so nothing had to be erased there."),
            *still_there(self.left, self.not_ours),
        )


def still_there(left: Iterable[str], not_ours: Iterable[str]) -> tuple[str, ...]:
    """A line for each thing that an erasure left, and for each that is not ours to erase."""
    return (
        *(tr("Still there: {what}", what=sentence) for sentence in left),
        *(tr("Not ours to erase: {what}", what=sentence) for sentence in not_ours),
    )
