"""The one codec: frozen values as JSON's own types and back, by their declared types.

Numbers that JSON has no word for are written as null (not a number) and "inf", "-inf".
"""

import base64
import binascii
import dataclasses
import json
import math
import types
from collections.abc import Mapping
from pathlib import Path
from typing import Any, TypeVar, Union, get_args, get_origin

from cattrs import Converter
from cattrs.errors import (
    AttributeValidationNote,
    BaseValidationError,
    ForbiddenExtraKeysError,
    IterableValidationNote,
)
from cattrs.preconf.json import make_converter

from sitwell.base.errors import SitwellError, UsageError
from sitwell.base.words import mark, tr

T = TypeVar("T")
_INFINITE = {"inf": math.inf, "-inf": -math.inf}
_WANTED = {
    bool: mark("write true or false"),
    int: mark("give a whole number"),
    float: mark("give a number"),
    str: mark("give a name in quotes"),
    Path: mark("give a file’s name in quotes"),
    tuple: mark('give a list of words, ["a", "b"]'),
}
OTHER = mark("write it as its page of fields says")


def new_converter(*, strict: bool = False) -> Converter:
    """A converter of the house; a ``strict`` one is for what people type.

    It refuses unknown keys, says where a slip is, and writes nothing that is as usual.
    """
    made = make_converter(
        detailed_validation=strict, forbid_extra_keys=strict, omit_if_default=strict
    )
    made.register_unstructure_hook(float, _write_float)
    made.register_structure_hook(float, _read_float)
    made.register_unstructure_hook(bytes, lambda data: base64.b64encode(data).decode("ascii"))
    made.register_structure_hook(bytes, _read_bytes)
    made.register_structure_hook(float | str, _read_number_or_word)
    made.register_structure_hook(Path, _read_path)
    made.register_unstructure_hook(Path, str)
    for kind in (str, int, bool):
        made.register_structure_hook(kind, _read_exactly)
    if strict:
        made.register_structure_hook_func(_is_row, lambda plain, kind: _read_row(made, plain, kind))
    return made


def to_plain(value: Any) -> Any:
    """A frozen value as JSON's own types."""
    return _CONVERTER.unstructure(value)


def from_plain(plain: Any, kind: type[T]) -> T:
    """A frozen value from JSON's own types; ValueError says what is wrong or missing."""
    try:
        return _CONVERTER.structure(plain, kind)
    except Exception as error:  # the converter raises many kinds, all meaning the same
        raise ValueError(f"{type(error).__name__}: {error}") from error


def json_words(content: Any) -> str:
    """JSON to be read by people as well; what is no number is null."""
    return json.dumps(without_nan(content), indent=1, ensure_ascii=False, allow_nan=False)


def without_nan(value: Any) -> Any:
    """Plain values with null for every number that is none."""
    if isinstance(value, Mapping):
        return {name: without_nan(item) for name, item in value.items()}
    if isinstance(value, list | tuple):
        return [without_nan(item) for item in value]
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    return value


def typed(
    converter: Converter, plain: Any, kind: type[T], where: str, names: Mapping[str, str]
) -> T:
    """What a person typed, by its declared type; UsageError says where the first slip is.

    ``names`` are fields that the file calls otherwise. Without ``where`` a value that is refused
    speaks for itself, as on the command line.
    """
    try:
        return converter.structure(plain, kind)
    except BaseValidationError as error:
        raise _slip(plain, error, where, names) from error


def _slip(plain: Any, error: Exception, where: str, names: Mapping[str, str]) -> UsageError:
    """The first slip in one sentence: where it is, what it is, and the cure."""
    key, value, kind, silent = "", plain, None, not where
    while isinstance(error, BaseValidationError):
        error = error.exceptions[0]
        for note in getattr(error, "__notes__", ()):
            if isinstance(note, AttributeValidationNote) and isinstance(plain, Mapping):
                key, kind = names.get(note.name, note.name), note.type
                value = plain = plain.get(key)
            elif isinstance(note, IterableValidationNote) and isinstance(plain, list | tuple):
                plain = plain[int(note.index)]
                if isinstance(plain, Mapping):
                    name = f" '{plain['name']}'" if isinstance(plain.get("name"), str) else ""
                    where = f"{where}, {key} {int(note.index) + 1}{name}"
    if isinstance(error, SitwellError):
        same = type(error) if isinstance(error, UsageError) else UsageError
        told = str(error) if silent else tr("{where}: {what}", where=where, what=str(error))
        return same(told)
    if isinstance(error, ForbiddenExtraKeysError):
        fields = (field.name for field in dataclasses.fields(error.cl))
        return UsageError(
            tr(
                "{where}: '{key}' is not a known key; use {known}.",
                where=where,
                key=min(error.extra_fields),
                known=", ".join(names.get(field, field) for field in fields),
            )
        )
    if isinstance(error, KeyError):
        return UsageError(tr("{where}: {key} is missing; add it.", where=where, key=error.args[0]))
    return UsageError(
        tr(
            "{where}: {key} is {value}; {wanted}.",
            where=where,
            key=key or tr("the file"),
            value=repr(value),
            wanted=tr(_WANTED.get(_bare(kind), OTHER)),
        )
    )


def _bare(kind: Any) -> Any:
    """A declared type without its None and its parts."""
    if get_origin(kind) in (Union, types.UnionType):
        kind = next(part for part in get_args(kind) if part is not type(None))
    return get_origin(kind) or kind


def _is_row(kind: Any) -> bool:
    return get_origin(kind) in (tuple,) and get_args(kind)[-1] is Ellipsis


def _read_row(converter: Converter, plain: Any, kind: Any) -> tuple[Any, ...]:
    if not isinstance(plain, list | tuple):  # a word would be taken for a row of letters
        raise TypeError(f"{plain!r} is no list")
    row: Any = types.GenericAlias(list, get_args(kind)[:1])
    return tuple(converter.structure(plain, row))


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


def _read_number_or_word(plain: Any, _: object) -> float | str:
    return plain if isinstance(plain, str) else _read_float(plain, float)


def _read_exactly(plain: Any, kind: type[T]) -> T:
    # bool counts as int for isinstance; nobody means it so
    if not isinstance(plain, kind) or (isinstance(plain, bool) and kind is not bool):
        raise TypeError(f"{plain!r} is not of the kind {kind.__name__}")
    return plain


def _read_path(plain: Any, _: object) -> Path:
    if not isinstance(plain, str) or not plain:
        raise TypeError(f"{plain!r} names no file")
    return Path(plain)


def _read_bytes(plain: Any, _: object) -> bytes:
    try:
        return base64.b64decode(_read_exactly(plain, str), validate=True)
    except binascii.Error as error:
        raise TypeError("bytes are not in base64") from error


_CONVERTER = new_converter()
