"""A sitting as one file in an open format: a zip with one JSON text and the sheets beside it.

The same sitting always gives the same bytes. A file that comes in is trusted with nothing: names,
sizes, versions and every value are checked before anything is kept, and nothing in it is ever
written under a name of its choosing.
"""

import hashlib
import io
import json
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from sitwell.base.codec import to_plain
from sitwell.base.errors import TransferError
from sitwell.base.words import tr
from sitwell.store.archive import check_name, read_archive
from sitwell.store.entries import (
    Consent,
    Crop,
    Kept,
    KeptFrame,
    KeptHead,
    KeptPlan,
    KeptWishes,
    Sat,
    Sitter,
    Sitting,
    UsedSetup,
)
from sitwell.store.files import remember_file
from sitwell.store.places import make_privately
from sitwell.store.record_bytes import from_plain, to_json
from sitwell.store.records import Records
from sitwell.store.schema import TABLE_OF

FORMAT = "sitwell-sitting"
VERSION = 1
_SITTING = "sitting.json"
_SHEETS = "sheets/"
_KINDS: tuple[type[Sat], ...] = (KeptWishes, KeptHead, KeptPlan, UsedSetup, KeptFrame, Crop)
_SUFFIXES = {".pdf": b"%PDF-", ".png": b"\x89PNG\r\n\x1a\n"}
# Zip's own earliest date, so that the bytes do not depend on the day of export.
_EPOCH = (1980, 1, 1, 0, 0, 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenIn:
    """A sitting that came in from a file, and its sheets (PDF or PNG) by name."""

    sitter: Sitter
    sitting: Sitting
    sheets: Mapping[str, bytes]


def export_sitting(
    records: Records,
    sitting: Sitting,
    path: Path | None = None,
    *,
    sheets: Mapping[str, bytes] | None = None,
) -> Path:
    """Write a sitting to one file, and note it so that forgetting the sitter removes it.

    The file is not sealed, also where the records are. ``sheets`` are PDF or PNG by plain name.
    """
    sitter = records.sitter_of(sitting)
    target = path or records.places.exports / file_name(sitting)
    content = sitting_bytes(records, sitter, sitting, sheets or {})
    make_privately(target, lambda temporary: temporary.write_bytes(content))
    remember_file(records, sitter, target, "export")
    return target


def file_name(sitting: Sitting) -> str:
    """What an exported sitting is called: its day and a part of its number, nothing of whose."""
    return f"{sitting.at:%Y-%m-%d}-{sitting.id[:8]}.sitting.zip"


def sitting_bytes(
    records: Records, sitter: Sitter, sitting: Sitting, sheets: Mapping[str, bytes]
) -> bytes:
    """The bytes of an exported sitting; equal records give equal bytes."""
    for name, content in sheets.items():
        _check_sheet(name, content)
    held: dict[str, Any] = {
        TABLE_OF[kind]: [to_plain(record) for record in records.of_sitting(kind, sitting)]
        for kind in _KINDS
    }
    text = to_json(
        {
            "format": FORMAT,
            "version": VERSION,
            "sitter": to_plain(sitter),
            "consents": [to_plain(consent) for consent in records.all(Consent, sitter)],
            "sitting": to_plain(sitting),
            "records": held,
            "sheets": {name: hashlib.sha256(sheets[name]).hexdigest() for name in sheets},
        }
    )
    return _zip({_SITTING: text} | {_SHEETS + name: sheets[name] for name in sorted(sheets)})


def import_sitting(
    records: Records, path: Path, *, label: str | None = None, at: datetime | None = None
) -> TakenIn:
    """Take in an exported sitting, all of it or nothing, if its consents are still in force.

    ``label`` renames the sitter where the label is taken here. A sitter who is known already keeps
    the label and consents they have here, and gets those of the file beside them.
    """
    files = read_archive(path)
    plain = _manifest(files.pop(_SITTING, None), path)
    sheets = _sheets(files, plain, path)
    sitter, sitting, held = _values(plain, path)
    here = {known.id: known for known in records.sitters()}
    if sitting.id in {known.id for known in records.all(Sitting)}:
        raise TransferError(
            tr(
                "The sitting in {file} is in the records already; open it there.",
                file=path,
            )
        )
    known = here.get(sitter.id)
    sitter = known or replace(sitter, label=label or sitter.label)
    ours = {consent.id for consent in records.all(Consent, sitter)}
    new = [r for r in held if not (isinstance(r, Consent) and r.id in ours)]
    records.keep(*(() if known else (sitter,)), *new, at=at, only_new=True)
    return TakenIn(sitter=sitter, sitting=sitting, sheets=sheets)


def _zip(files: Mapping[str, bytes]) -> bytes:
    # Stored, not squeezed: the bytes then do not depend on the version of a compressor.
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_STORED) as archive:
        for name, content in files.items():
            entry = zipfile.ZipInfo(name, date_time=_EPOCH)
            entry.create_system = 3
            entry.external_attr = 0o100600 << 16
            archive.writestr(entry, content)
    return stream.getvalue()


def _manifest(text: bytes | None, path: Path) -> dict[str, Any]:
    if text is None:
        raise TransferError(
            tr(
                "{file} holds no {sitting}; choose a file that Sitwell exported.",
                file=path,
                sitting=_SITTING,
            )
        )
    try:
        plain = json.loads(text.decode("utf-8"))
    except (ValueError, RecursionError) as error:
        raise TransferError(
            tr(
                "The {sitting} in {file} can't be read; export it again.",
                sitting=_SITTING,
                file=path,
            )
        ) from error
    if not isinstance(plain, dict) or plain.get("format") != FORMAT:
        raise TransferError(
            tr(
                "{file} is no exported sitting; choose a file that Sitwell exported.",
                file=path,
            )
        )
    if plain.get("version") != VERSION or isinstance(plain["version"], bool):
        raise TransferError(
            tr(
                "{file} is of version {found}, and this Sitwell reads {version}; open it with the "
                "Sitwell that wrote it.",
                file=path,
                found=repr(plain.get("version")),
                version=VERSION,
            )
        )
    return plain


def _sheets(files: dict[str, bytes], plain: dict[str, Any], path: Path) -> dict[str, bytes]:
    listed = plain.get("sheets")
    if not isinstance(listed, dict) or {_SHEETS + name for name in listed} != set(files):
        raise TransferError(
            tr("The sheets in {file} are not those it lists; export it again.", file=path)
        )
    sheets = {name: files[_SHEETS + name] for name in listed}
    for name, content in sheets.items():
        _check_sheet(name, content)
        if hashlib.sha256(content).hexdigest() != listed[name]:
            raise TransferError(
                tr(
                    "The sheet {name} in {file} was altered; export it again.",
                    name=name,
                    file=path,
                )
            )
    return sheets


def _values(plain: dict[str, Any], path: Path) -> tuple[Sitter, Sitting, list[Kept]]:
    try:
        sitter = from_plain(plain["sitter"], Sitter)
        sitting = from_plain(plain["sitting"], Sitting)
        consents = [from_plain(item, Consent) for item in plain["consents"]]
        sat = [
            from_plain(item, kind) for kind in _KINDS for item in plain["records"][TABLE_OF[kind]]
        ]
    except TransferError:
        raise
    except Exception as error:  # wrong shapes raise many kinds, all meaning the same
        raise TransferError(
            tr(
                "A value in {file} can't be taken in ({error}); export it again.",
                file=path,
                error=error,
            )
        ) from error
    held: list[Kept] = [*consents, sitting, *sat]
    strangers = [r for r in held if getattr(r, "sitter_id", sitter.id) != sitter.id]
    if strangers or any(record.sitting_id != sitting.id for record in sat):
        raise TransferError(
            tr(
                "{file} mixes several sitters or sittings; export each sitting by itself.",
                file=path,
            )
        )
    return sitter, sitting, held


def _check_sheet(name: str, content: bytes) -> None:
    check_name(name)
    begins = _SUFFIXES.get(Path(name).suffix.lower())
    if "/" in name or begins is None or not content.startswith(begins):
        raise TransferError(
            tr(
                "The sheet '{name}' is no PDF or PNG; call it name.pdf or name.png.",
                name=name,
            )
        )
