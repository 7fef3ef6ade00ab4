"""A sitting on its way into the records: the yes it rests on, what was made of it, what worked.

The command line and the pages keep a sitting through here and nowhere else.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from sitwell.base.errors import ConsentError, StoreError
from sitwell.base.words import mark, tr
from sitwell.brief.wishes import Wish
from sitwell.scene.setup import Setup
from sitwell.search.plan import Plan
from sitwell.store.consent import default_keep_until, notice
from sitwell.store.entries import (
    MEASUREMENTS,
    WISHES,
    Consent,
    Kept,
    KeptHead,
    KeptPlan,
    KeptWishes,
    Sitter,
    Sitting,
    UsedSetup,
)
from sitwell.store.files import remember_file
from sitwell.store.records import Records


@dataclass(frozen=True, slots=True, kw_only=True)
class Yes:
    """A yes as it is asked for: to measurements, with ``wishes`` to those as well, until a day.

    ``guardian`` is who says it for a child; None where the sitter does, so that a name left empty
    never becomes the sitter's own yes.
    """

    wishes: bool = False
    until: date | None = None
    guardian: str | None = None

    def __post_init__(self) -> None:
        """Refuse a guardian without a name."""
        if self.guardian is not None and not self.guardian.strip():
            raise ConsentError(tr("The guardian's name is empty; write down who said yes."))

    @property
    def day(self) -> date:
        """The last day of keeping: the one named, or the usual."""
        return self.until or default_keep_until(date.today())

    @property
    def purposes(self) -> tuple[str, ...]:
        """What is asked for, one by one."""
        return (MEASUREMENTS, WISHES) if self.wishes else (MEASUREMENTS,)

    def notice(self) -> str:
        """The words to show, or to read out, before anybody says yes."""
        return notice(self.purposes, self.day, child=self.guardian is not None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """What came of a sitting; each part may be missing.

    ``head`` is what ``head_as_dict`` gave; ``used`` is a set-up by its name that was shot, and
    ``worked`` whether it did (None: not said); ``files`` are the sheets that were written.
    """

    wishes: tuple[Wish, ...] = ()
    head: Mapping[str, Any] | None = None
    plan: Plan | None = None
    used: tuple[str, Setup] | None = None
    worked: bool | None = None
    files: Sequence[Path] = ()


def record_yes(records: Records, label: str, yes: Yes) -> Sitter:
    """Write down a yes that was given, and whose; a label and its first yes go in together."""
    known = records.known(label)
    sitter = known or Sitter(label=label, child=bool(yes.guardian))
    if sitter.child and not yes.guardian:
        raise ConsentError(
            tr("'{label}' is a child; name the guardian who said yes.", label=sitter.label)
        )
    words = yes.notice()
    given = (
        Consent(
            sitter_id=sitter.id,
            purpose=purpose,
            keep_until=yes.day,
            notice=words,
            by="guardian" if yes.guardian else "sitter",
            guardian=yes.guardian or "",
        )
        for purpose in yes.purposes
    )
    records.keep(*(() if known else (sitter,)), *given)
    return sitter


def keep_sitting(records: Records, sitter: Sitter, made: Made) -> tuple[str, ...]:
    """Keep a new sitting as far as the sitter agreed; names what was kept, in plain words.

    A plan tells the wishes it answers, so it needs the yes to them as well.
    """
    leave = records.agreed(sitter)
    if MEASUREMENTS not in leave:
        raise ConsentError(
            tr(
                "Nothing went into the records: '{label}' has not said yes yet; ask with: "
                "sitwell consent '{label}'.",
                label=sitter.label,
            )
        )
    sitting = Sitting(sitter_id=sitter.id)
    of: dict[str, Any] = {"sitter_id": sitter.id, "sitting_id": sitting.id}
    parts: dict[str, Kept] = {}
    if made.head:
        parts[mark("the head")] = head_record(made.head, **of)
    if made.wishes and WISHES in leave:
        parts[mark("the wishes")] = KeptWishes(**of, wishes=made.wishes)
    if made.plan is not None and WISHES in leave:
        parts[mark("the plan")] = KeptPlan(**of, plan=made.plan)
    if made.used is not None:
        name, setup = made.used
        parts[mark("the set-up in hand")] = UsedSetup(
            **of, name=name, setup=setup, worked=made.worked
        )
    records.keep(sitting, *parts.values())
    for path in made.files:
        remember_file(records, sitter, path, "plan")
    return tuple(parts)


def note_used(
    records: Records, sitter: Sitter, name: str, setup: Setup | None, *, worked: bool, note: str
) -> UsedSetup:
    """Note in the latest sitting that a set-up was shot and whether it worked.

    Without ``setup`` it is the one of that name in the latest plan that was kept.
    """
    sittings = records.all(Sitting, sitter)
    if not sittings:
        raise StoreError(
            tr(
                "No sitting of '{label}' is in the records; keep one first with: sitwell plan "
                "... --sitter '{label}'.",
                label=sitter.label,
            )
        )
    setup = setup or _planned(records, sitter, name)
    used = UsedSetup(
        sitter_id=sitter.id,
        sitting_id=sittings[-1].id,
        name=name,
        setup=setup,
        worked=worked,
        note=note,
    )
    records.keep(used)
    return used


def head_record(head: Mapping[str, Any], sitter_id: str, sitting_id: str) -> KeptHead:
    """A head as ``head_as_dict`` gives it, as a record; StoreError where it is damaged."""
    try:
        return KeptHead(
            sitter_id=sitter_id,
            sitting_id=sitting_id,
            shape={str(name): float(value) for name, value in head["shape"].items()},
            level_frame={"hairline_mm": float(head["hairline_mm"])},
            arrays={"neutral": tuple(float(value) for row in head["neutral"] for value in row)},
        )
    except (KeyError, TypeError, ValueError, AttributeError) as problem:
        raise StoreError(
            tr(
                "The head can't be kept ({problem}); read the frames again.",
                problem=problem,
            )
        ) from problem


def head_values(kept: KeptHead) -> dict[str, Any]:
    """What ``head_from_dict`` takes, from a record; StoreError where the record lacks some."""
    try:
        neutral, hairline_mm = kept.arrays["neutral"], kept.level_frame["hairline_mm"]
    except KeyError as problem:
        raise StoreError(
            tr(
                "The kept head lacks {problem}; start from test frames instead.",
                problem=problem,
            )
        ) from problem
    rows = [list(neutral[start : start + 3]) for start in range(0, len(neutral), 3)]
    return {"shape": dict(kept.shape), "hairline_mm": hairline_mm, "neutral": rows}


def _planned(records: Records, sitter: Sitter, name: str) -> Setup:
    plans = records.all(KeptPlan, sitter)
    setups = {planned.name: planned.setup for planned in plans[-1].plan.setups} if plans else {}
    if name not in setups:
        held = f"holds {', '.join(setups)}" if setups else "is not there"
        raise StoreError(
            tr(
                "There is no set-up '{name}' to note: the latest plan of '{label}' {held}; name "
                "one of a plan file with --plan PLAN.json.",
                name=name,
                label=sitter.label,
                held=held,
            )
        )
    return setups[name]
