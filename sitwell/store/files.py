"""Files that we wrote for a sitter outside the records: sheets, exports, proof pages."""

import hashlib
from dataclasses import dataclass
from pathlib import Path

import sqlalchemy as sa

from sitwell.store.kept import OurFile, Sitter
from sitwell.store.records import Records
from sitwell.store.schema import query_table


@dataclass(frozen=True, slots=True, kw_only=True)
class Removal:
    """Which of our files went, and a sentence for each that did not."""

    removed: tuple[str, ...]
    left: tuple[str, ...]
    not_ours: tuple[str, ...]


def remember_file(records: Records, sitter: Sitter, path: Path, what: str) -> OurFile:
    """Note a file that we have just written, so that forgetting this sitter removes it too."""
    kept = OurFile(sitter_id=sitter.id, what=what, path=str(path.absolute()), sha256=_sha256(path))
    records.keep(kept)
    return kept


def remove_files(records: Records, files: tuple[OurFile, ...]) -> Removal:
    """Remove our files as far as they are still as we wrote them, and strike them off the list."""
    removed, left, not_ours, settled = [], [], [], []
    for file in files:
        path = Path(file.path)
        try:
            ours = path.is_file() and _sha256(path) == file.sha256
            changed = path.exists() and not ours
            if ours:
                path.unlink()
                removed.append(file.path)
        except OSError as error:
            left.append(f"{path} could not be removed ({error.strerror}); close it and try again.")
            continue
        if changed:
            not_ours.append(f"{path} was changed since we wrote it; look at it and delete it.")
        settled.append(file.id)
    _strike_off(records, settled)
    return Removal(removed=tuple(removed), left=tuple(left), not_ours=tuple(not_ours))


def _strike_off(records: Records, ids: list[str]) -> None:
    table = query_table("files")
    with records.writing() as connection:
        connection.execute(table.delete().where(sa.column("id").in_(ids)))


def _sha256(path: Path) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()
