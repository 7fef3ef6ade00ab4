"""The command line's door to the records: leave given, a plan kept, everything forgotten."""

import contextlib
from collections.abc import Iterator, Sequence
from datetime import date
from pathlib import Path
from typing import Any

from sitwell.base.errors import ConsentError, StoreError
from sitwell.brief.wishes import Wish
from sitwell.search.plan import Plan
from sitwell.store.consent import agreed, default_keep_until, notice
from sitwell.store.erase import forget
from sitwell.store.files import remember_file
from sitwell.store.kept import (
    MEASUREMENTS,
    WISHES,
    Consent,
    KeptHead,
    KeptPlan,
    KeptWishes,
    Sitter,
    Sitting,
    now,
)
from sitwell.store.opening import open_records
from sitwell.store.places import make_places, remove_tree
from sitwell.store.records import Records

NO_LEAVE = (
    "Nothing went into the records: '{label}' has given no leave yet; ask with: "
    "sitwell consent '{label}'."
)


def purposes_asked(wishes: bool) -> list[str]:
    """What is asked for: measurements, and notes on wishes where the photographer wants them."""
    return [MEASUREMENTS, WISHES] if wishes else [MEASUREMENTS]


def notice_text(wishes: bool, until: date | None, guardian: str) -> str:
    """The words to show before anybody says yes."""
    day = until or default_keep_until(date.today())
    return notice(purposes_asked(wishes), day, child=bool(guardian))


def record_consent(label: str, *, wishes: bool, until: date | None, guardian: str) -> date:
    """Write down a yes that was given; gives the last day for which things are kept."""
    day = until or default_keep_until(date.today())
    words = notice_text(wishes, day, guardian)
    with open_records() as records:
        sitter = _known(records, label) or records.add_sitter(label, child=bool(guardian))
        if sitter.child and not guardian:
            raise ConsentError(f"'{label}' is a child; name the guardian who said yes.")
        records.keep(
            *(
                Consent(
                    sitter_id=sitter.id,
                    purpose=purpose,
                    keep_until=day,
                    notice=words,
                    by="guardian" if guardian else "sitter",
                    guardian=guardian,
                )
                for purpose in purposes_asked(wishes)
            )
        )
    return day


def keep_plan(
    label: str,
    kept: dict[str, Any],
    wishes: Sequence[Wish],
    plan: Plan,
    files: Sequence[Path],
) -> str:
    """Keep what the sitter agreed to, and say what that was in one sentence."""
    with open_records() as records:
        sitter = _known(records, label)
        leave = agreed(records.all(Consent, sitter), sitter, now()) if sitter else frozenset()
        if sitter is None or MEASUREMENTS not in leave:
            return NO_LEAVE.format(label=label)
        sitting = Sitting(sitter_id=sitter.id)
        of: dict[str, Any] = {"sitter_id": sitter.id, "sitting_id": sitting.id}
        made: list[Any] = [sitting, _head(kept, of)]
        if WISHES in leave:
            made += [KeptWishes(**of, wishes=tuple(wishes)), KeptPlan(**of, plan=plan)]
        records.keep(*made)
        for path in files:
            remember_file(records, sitter, path.resolve(), "plan")
        what = "the head, the wishes and the plan" if WISHES in leave else "the head"
        return f"Kept in the records for '{sitter.label}': {what}; the sheets are remembered."


def forget_sitter(label: str) -> tuple[str, ...]:
    """Erase all that is kept of a sitter, backups included; gives the report, line by line."""
    with open_records() as records:
        return tuple(forget(records, records.sitter(label)).lines())


def sitters() -> tuple[tuple[str, date | None], ...]:
    """Everybody in the records and until when; what had come to its end is erased first."""
    with open_records() as records:
        return tuple(
            (sitter.label, _until(records.all(Consent, sitter))) for sitter in records.sitters()
        )


@contextlib.contextmanager
def frames_folder(label: str) -> Iterator[Path]:
    """Where readings of a folder's frames are kept: the sitter's own place, or the common one."""
    if not label:
        folder = make_places().home / "frames"
        folder.mkdir(mode=0o700, exist_ok=True)
        yield folder
        return
    with open_records() as records:
        folder = records.cache_folder(records.sitter(label))
    yield folder


def forget_frames() -> int:
    """Erase every reading of frames that belongs to no one sitter; gives how many files."""
    folder = make_places().home / "frames"
    return remove_tree(folder) if folder.exists() else 0


def _known(records: Records, label: str) -> Sitter | None:
    wanted = " ".join(label.split()).casefold()
    return next((s for s in records.sitters() if s.label.casefold() == wanted), None)


def _until(consents: Sequence[Consent]) -> date | None:
    return max((c.keep_until for c in consents if not c.withdrawn_at), default=None)


def _head(kept: dict[str, Any], of: dict[str, Any]) -> KeptHead:
    try:
        return KeptHead(
            **of,
            shape=kept["shape"],
            level_frame={"hairline_mm": kept["hairline_mm"]},
            arrays={"neutral": tuple(value for row in kept["neutral"] for value in row)},
        )
    except (KeyError, TypeError) as problem:
        raise StoreError(f"The head can't be kept ({problem}); read the frames again.") from problem
