"""Nothing about a face is kept before somebody said yes, and nothing after that yes has ended.

The rules here are ours, careful rather than clever, and no legal advice; docs/privacy.md says
what was read. Three things are asked for one by one: measurements of the face, notes on wishes
(they may say something of health), and pictures cut from the photographs.
"""

from collections.abc import Iterable
from datetime import date, datetime, timedelta

from sitwell.base.errors import ConsentError
from sitwell.base.words import mark, tr
from sitwell.store.days import day_words
from sitwell.store.entries import CROPS, MEASUREMENTS, PURPOSES, WISHES, Consent, Sitter

# Our own choice: long enough for the sitting a year later, short enough to be asked again.
DEFAULT_TERM_DAYS = 400

_WHAT = {
    MEASUREMENTS: mark("measurements of the face"),
    WISHES: mark("notes on what you would like played down or brought out"),
    CROPS: mark("small pictures cut from the photographs"),
}


def default_keep_until(given: date) -> date:
    """The last day for which things are kept when nobody names another."""
    return given + timedelta(days=DEFAULT_TERM_DAYS)


def notice(purposes: Iterable[str], keep_until: date, *, child: bool = False) -> str:
    """The words to show, or to read out, before anybody says yes."""
    asked = [purpose for purpose in PURPOSES if purpose in set(purposes)]
    kept = "; ".join(tr(_WHAT[purpose]) for purpose in asked) or tr("nothing")
    lines = [
        tr("This program measures your face in photographs, to suggest pose, camera and light."),
        tr("It works on this computer and sends nothing away."),
        tr("It does not look up who you are and does not compare you with other people."),
        tr(
            "If you agree, it keeps until {day}: {what}. Then it deletes them.",
            day=day_words(keep_until),
            what=kept,
        ),
    ]
    if WISHES in asked:
        lines.append(
            tr("Notes on wishes may say something about your health, so they are asked apart.")
        )
    lines += [
        tr("You can say no to any of these and still be photographed."),
        tr("You can see what is kept, and have it deleted, at any time; just ask."),
        tr("The photographs themselves are kept by the photographer, not by this program."),
    ]
    if child:
        lines.append(tr("For a child, a parent or guardian decides and is written down by name."))
    return "\n".join(lines)


def in_force(consents: Iterable[Consent], sitter: Sitter, purpose: str, now: datetime) -> bool:
    """Whether somebody who may has said yes to ``purpose``, and that yes still stands."""
    return any(
        consent.sitter_id == sitter.id
        and consent.purpose == purpose
        and consent.withdrawn_at is None
        and consent.at <= now
        and now.date() <= consent.keep_until
        and (consent.by == "guardian" or not sitter.child)
        for consent in consents
    )


def agreed(consents: Iterable[Consent], sitter: Sitter, now: datetime) -> frozenset[str]:
    """Every purpose with a yes in force."""
    known = tuple(consents)
    return frozenset(p for p in PURPOSES if in_force(known, sitter, p, now))


def require(
    needs: Iterable[str], consents: Iterable[Consent], sitter: Sitter, now: datetime
) -> None:
    """Refuse to keep what nobody has agreed to."""
    known = tuple(consents)
    for purpose in sorted(needs):
        if not in_force(known, sitter, purpose, now):
            who = "a guardian's yes" if sitter.child else "a yes"
            raise ConsentError(
                tr(
                    "{label} has no consent in force for {purpose}; show the notice, record "
                    "{who}, or go on without keeping anything.",
                    label=sitter.label,
                    purpose=purpose,
                    who=who,
                )
            )


def check_giver(consent: Consent, sitter: Sitter) -> None:
    """Refuse a child's own yes."""
    if sitter.child and consent.by != "guardian":
        raise ConsentError(
            tr(
                "{label} is a child, and the consent is by the {by}; record the guardian who "
                "said yes.",
                label=sitter.label,
                by=consent.by,
            )
        )
