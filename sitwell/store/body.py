"""A record as bytes and back: plain JSON, sealed when there is a passphrase.

Numbers that JSON has no word for are written as null (not a number) and "inf", "-inf".
"""

import base64
import binascii
import json
import math
from typing import Any, TypeVar

from cattrs.preconf.json import make_converter

from sitwell.base.errors import SealError, StoreError
from sitwell.base.words import tr
from sitwell.store.sealed import Seal, is_sealed

T = TypeVar("T")
_INFINITE = {"inf": math.inf, "-inf": -math.inf}


def to_plain(value: Any) -> Any:
    """A frozen value as JSON's own types."""
    return _CONVERTER.unstructure(value)


def from_plain(plain: Any, kind: type[T]) -> T:
    """A frozen value from JSON's own types; a wrong or missing one is a StoreError."""
    try:
        return _CONVERTER.structure(plain, kind)
    except Exception as error:  # the converter raises many kinds, all meaning the same
        raise StoreError(
            tr(
                "A {name} can't be read ({kind}: {error}); use a backup.",
                name=kind.__name__,
                kind=type(error).__name__,
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


def _write_float(value: float) -> Any:
    number = float(value)
    if math.isfinite(number):
        return number
    return None if math.isnan(number) else str(number)


def _read_float(plain: Any, _: object) -> float:
    if plain is None:
        return math.nan
    if isinstance(plain, str) and plain in _INFINITE:
        return _INFINITE[plain]
    if isinstance(plain, bool) or not isinstance(plain, int | float):
        raise TypeError(f"{plain!r} is not a number")
    return float(plain)


def _read_exactly(plain: Any, kind: type[T]) -> T:
    # bool counts as int for isinstance; a record never means it so
    if type(plain) is not kind:
        raise TypeError(f"{plain!r} is not of the kind {kind.__name__}")
    return plain


def _read_bytes(plain: Any, _: object) -> bytes:
    try:
        return base64.b64decode(_read_exactly(plain, str), validate=True)
    except binascii.Error as error:
        raise TypeError("bytes are not in base64") from error


_CONVERTER = make_converter(detailed_validation=False)
_CONVERTER.register_unstructure_hook(float, _write_float)
_CONVERTER.register_structure_hook(float, _read_float)
_CONVERTER.register_unstructure_hook(bytes, lambda data: base64.b64encode(data).decode("ascii"))
_CONVERTER.register_structure_hook(bytes, _read_bytes)
for _kind in (str, int, bool):
    _CONVERTER.register_structure_hook(_kind, _read_exactly)
