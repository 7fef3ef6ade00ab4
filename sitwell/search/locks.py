"""Locked quantities as typed: ``turn_deg=10`` holds the turn while the rest is searched."""

import dataclasses
from collections.abc import Sequence

from sitwell.base.errors import UsageError
from sitwell.base.words import tr
from sitwell.scene.setup import Setup

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
        return name, value
    try:
        return name, float(value)
    except ValueError as problem:
        raise UsageError(
            tr("The lock '{text}' needs a number after '='; give one.", text=text)
        ) from problem
