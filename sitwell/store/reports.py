"""What an erasure did, said in full: what went, what is left, and what is not ours to erase."""

from collections.abc import Mapping
from dataclasses import dataclass, field

_WORDS = {
    "sitters": "label and note",
    "consents": "consents",
    "sittings": "sittings",
    "wishes": "notes on wishes",
    "heads": "heads and level frames",
    "plans": "plans with measures",
    "setups": "set-ups used",
    "frames": "frame checks and choices",
    "crops": "pictures cut from photographs",
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
        what = self.purpose or "everything"
        found = [f"  {n} x {_WORDS[table]}" for table, n in self.rows.items() if n]
        found += [f"  file {path}" for path in self.files]
        found += [f"  {self.cached_files} cached files"] if self.cached_files else []
        found += [f"  and from the backup {path}" for path in self.backups]
        return (
            f"Erased of {self.label} ({what}):",
            *(found or ["  nothing was kept"]),
            "  The log names no sitter, so nothing had to be erased there.",
            *(f"Still there: {sentence}" for sentence in self.left),
            *(f"Not ours to erase: {sentence}" for sentence in self.not_ours),
        )
