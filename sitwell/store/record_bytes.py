"""A record as bytes and back: plain JSON, sealed when there is a passphrase.

The plain values are those of ``base/codec.py``.
"""

import json
from typing import Any, TypeVar

from sitwell.base import codec
from sitwell.base.codec import to_plain
from sitwell.base.errors import SealError, StoreError
from sitwell.base.words import tr
from sitwell.store.sealed import Seal, is_sealed

T = TypeVar("T")


def from_plain(plain: Any, kind: type[T]) -> T:
    """A frozen value from JSON's own types; a wrong or missing one is a StoreError."""
    try:
        return codec.from_plain(plain, kind)
    except ValueError as error:
        raise StoreError(
            tr(
                "A {name} can't be read ({error}); use a backup.",
                name=kind.__name__,
                error=error,
            )
        ) from error


def to_json(plain: Any) -> bytes:
    """JSON text in one fixed spelling, so that equal values are equal bytes."""
    try:
        return json.dumps(
            plain, ensure_ascii=False, allow_nan=False, sort_keys=True, separators=(",", ":")
        ).encode("utf-8")
    except (TypeError, ValueError) as error:
        raise StoreError(
            tr("This can't be kept ({error}); give plain numbers and words.", error=error)
        ) from error


def to_body(value: Any, seal: Seal | None, where: str) -> bytes:
    """The bytes that are kept; ``where`` names the table and row, and binds a sealed body to it."""
    plain = to_json(to_plain(value))
    return plain if seal is None else seal.close(plain, where)


def from_body(body: bytes, kind: type[T], seal: Seal | None, where: str) -> T:
    """The value back; a body that is sealed while it should not be, or the reverse, is refused."""
    if is_sealed(body) != (seal is not None):
        raise SealError(
            tr(
                "The record {where} is not sealed like the others; use a backup.",
                where=where,
            )
        )
    try:
        plain = json.loads(seal.open(body, where) if seal else body)
    except (ValueError, RecursionError) as error:
        raise StoreError(tr("The record {where} is damaged; use a backup.", where=where)) from error
    return from_plain(plain, kind)
