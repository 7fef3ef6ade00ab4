"""The pages' door to the records: what is kept of a sitting, who is in them, and forgetting."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from sitwell.base.errors import StoreError
from sitwell.brief.wishes import Wish
from sitwell.scene.setup import Setup
from sitwell.search.plan import Plan
from sitwell.store.consent import notice
from sitwell.store.erase import forget
from sitwell.store.kept import (
    MEASUREMENTS,
    WISHES,
    Consent,
    KeptHead,
    KeptPlan,
    KeptWishes,
    Sitter,
    Sitting,
    UsedSetup,
)
from sitwell.store.opening import open_records


@dataclass(frozen=True, slots=True, kw_only=True)
class ToKeep:
    """What of a sitting goes into the records, and the leave it rests on."""

    label: str
    child: bool
    by: str
    guardian: str
    keep_until: date
    wishes: tuple[Wish, ...] | None
    head: Mapping[str, Any] | None
    plan: Plan | None
    used: tuple[str, Setup] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SitterLine:
    """One sitter in the records: their label and until when, how many sittings, what of them."""

    label: str
    keep_until: date | None
    sittings: int


def keep_sitting(home: Path | None, kept: ToKeep) -> str:
    """Write a sitting into the records under its sitter's label; gives the label."""
    purposes = [MEASUREMENTS] + ([WISHES] if kept.wishes is not None else [])
    with open_records(home) as records:
        known = {sitter.label.casefold(): sitter for sitter in records.sitters()}
        sitter = known.get(kept.label.casefold()) or records.add_sitter(
            kept.label, child=kept.child
        )
        words = notice(purposes, kept.keep_until, child=kept.child)
        consents = [
            Consent(
                sitter_id=sitter.id,
                purpose=purpose,
                keep_until=kept.keep_until,
                notice=words,
                by=kept.by,
                guardian=kept.guardian,
            )
            for purpose in purposes
        ]
        sitting = Sitting(sitter_id=sitter.id)
        records.keep(*consents)
        records.keep(sitting, *_records_of(kept, sitter, sitting))
        return sitter.label


def list_sitters(home: Path | None) -> tuple[SitterLine, ...]:
    """Everybody in the records; what had come to its end is erased first."""
    with open_records(home) as records:
        lines = []
        for sitter in records.sitters():
            standing = [c.keep_until for c in records.all(Consent, sitter) if not c.withdrawn_at]
            sittings = len(records.all(Sitting, sitter))
            until = max(standing) if standing else None
            lines.append(SitterLine(label=sitter.label, keep_until=until, sittings=sittings))
        return tuple(lines)


def forget_sitter(home: Path | None, label: str) -> tuple[str, ...]:
    """Erase all that is kept of a sitter, backups included; gives the report, line by line."""
    with open_records(home) as records:
        return tuple(forget(records, records.sitter(label)).lines())


def _records_of(kept: ToKeep, sitter: Sitter, sitting: Sitting) -> list[Any]:
    of, at = sitter.id, sitting.id
    made: list[Any] = []
    if kept.wishes:
        made.append(KeptWishes(sitter_id=of, sitting_id=at, wishes=kept.wishes))
    if kept.head:
        made.append(_head_record(kept.head, of, at))
    if kept.plan is not None and kept.wishes is not None:  # a plan tells the wishes it answers
        made.append(KeptPlan(sitter_id=of, sitting_id=at, plan=kept.plan))
    if kept.used is not None:
        name, setup = kept.used
        made.append(UsedSetup(sitter_id=of, sitting_id=at, name=name, setup=setup))
    return made


def _head_record(head: Mapping[str, Any], sitter_id: str, sitting_id: str) -> KeptHead:
    try:
        neutral = [float(value) for row in head["neutral"] for value in row]
        return KeptHead(
            sitter_id=sitter_id,
            sitting_id=sitting_id,
            shape={str(name): float(value) for name, value in head["shape"].items()},
            level_frame={"hairline_mm": float(head["hairline_mm"])},
            arrays={"neutral": tuple(neutral)},
        )
    except (KeyError, TypeError, ValueError) as error:
        raise StoreError(f"The head can't be kept ({error}); read the frames again.") from error
