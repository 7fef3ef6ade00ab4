"""Locked quantities as typed: ``turn_deg=10`` holds the turn while the rest is searched."""

import dataclasses
from collections.abc import Mapping, Sequence

from sitwell.base.errors import SetupError, UsageError
from sitwell.base.words import tr
from sitwell.scene.setup import RANGES, Setup, refuse_beyond, refuse_unknown

QUANTITIES = {field.name: field.type for field in dataclasses.fields(Setup)}


def parse_locks(texts: Sequence[str]) -> dict[str, float | str]:
    """Set-up quantities by name from ``NAME=VALUE`` texts; UsageError says what can be held."""
    return dict(_parse(text) for text in texts)


def _parse(text: str) -> tuple[str, float | str]:
    name, equals, value = text.partition("=")
    if not equals or name not in QUANTITIES:
        raise UsageError(
            tr(
                "The lock '{text}' can't be held; write NAME=VALUE with one of {known}.",
                text=text,
                known=", ".join(QUANTITIES),
            )
        )
    if QUANTITIES[name] is str:
        held: float | str = value
    else:
        try:
            held = float(value)
        except ValueError as problem:
            raise UsageError(
                tr("The lock '{text}' needs a number after '='; give one.", text=text)
            ) from problem
    refuse_locks({name: held})
    return name, held


def refuse_locks(locks: Mapping[str, float | str]) -> None:
    """Refuse quantities that can't be held so; UsageError names the first, and the cure."""
    for name, held in locks.items():
        try:
            if name in RANGES and isinstance(held, int | float):
                refuse_beyond(name, held)
            elif QUANTITIES.get(name) is str:
                refuse_unknown(name, str(held))
            else:
                _parse(f"{name}={held}")  # which says what is wrong with it
        except SetupError as problem:
            text = f"{name}={held:g}" if isinstance(held, int | float) else f"{name}={held}"
            raise UsageError(
                tr("The lock '{text}' can't be held: {problem}", text=text, problem=str(problem))
            ) from problem
