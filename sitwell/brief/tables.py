"""Reading the small TOML files a photographer types: numbers, ranges and names, or a sentence."""

import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from sitwell.base.errors import UsageError
from sitwell.base.words import tr

Made = TypeVar("Made")


@dataclass(frozen=True, slots=True)
class Table:
    """One table of a TOML file, with the words that point to it and the error to raise."""

    where: str
    values: Mapping[str, Any]
    error: type[UsageError]

    def only(self, *allowed: str) -> None:
        """Refuse a key that nobody would read; a typing slip must not pass in silence."""
        for key in self.values:
            if key not in allowed:
                raise self.error(
                    tr(
                        "{where}: '{key}' is not a known key; use {known}.",
                        where=self.where,
                        key=key,
                        known=", ".join(allowed),
                    )
                )

    def text(self, key: str, default: str) -> str:
        """A name."""
        value = self.values.get(key, default)
        if not isinstance(value, str) or not value.strip():
            raise self.error(
                tr(
                    "{where}: {key} is {value}; give a name in quotes.",
                    where=self.where,
                    key=key,
                    value=repr(value),
                )
            )
        return value

    def number(self, key: str, default: float | None = None, *, above: float = 0.0) -> float:
        """A single number greater than ``above``."""
        value = self._value(key, default)
        if not _is_number(value) or not value > above:
            raise self.error(
                tr(
                    "{where}: {key} is {value}; give a number above {above}.",
                    where=self.where,
                    key=key,
                    value=repr(value),
                    above=f"{above:g}",
                )
            )
        return float(value)

    def span(
        self,
        key: str,
        default: Sequence[float] | None = None,
        *,
        low: float = -1e9,
        high: float = 1e9,
        descending: bool = False,
    ) -> tuple[float, float]:
        """A range [low, high] inside the limits; one number stands for a range of no width."""
        value = self._value(key, default)
        pair = [value, value] if _is_number(value) else value
        if not isinstance(pair, (list, tuple)) or len(pair) != 2 or not all(map(_is_number, pair)):
            raise self.error(
                tr(
                    "{where}: {key} is {value}; give one number or [low, high].",
                    where=self.where,
                    key=key,
                    value=repr(value),
                )
            )
        if not all(low <= number <= high for number in pair):
            raise self.error(
                tr(
                    "{where}: {key} is {value}; keep it within {low}..{high}.",
                    where=self.where,
                    key=key,
                    value=repr(value),
                    low=f"{low:g}",
                    high=f"{high:g}",
                )
            )
        if pair[0] > pair[1] and not descending:
            raise self.error(
                tr(
                    "{where}: {key} is {value}; write the smaller number first.",
                    where=self.where,
                    key=key,
                    value=repr(value),
                )
            )
        return float(pair[0]), float(pair[1])

    def words(self, key: str, known: Sequence[str], default: Sequence[str]) -> tuple[str, ...]:
        """One known word, or a list of them, each once."""
        value = self.values.get(key, default)
        words = [value] if isinstance(value, str) else value
        if not isinstance(words, (list, tuple)) or not words or any(w not in known for w in words):
            raise self.error(
                tr(
                    "{where}: {key} is {value}; give one or more of {known}.",
                    where=self.where,
                    key=key,
                    value=repr(value),
                    known=", ".join(known),
                )
            )
        return tuple(dict.fromkeys(words))

    def tables(self, key: str) -> list["Table"]:
        """The rows of an array of tables, ``[[key]]``; none when the file has none."""
        rows = self.values.get(key, [])
        if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
            raise self.error(
                tr(
                    "{where}: write each {key} under its own [[{key}]] line.",
                    where=self.where,
                    key=key,
                )
            )
        return [self._row(key, number, row) for number, row in enumerate(rows, start=1)]

    def table(self, key: str) -> "Table | None":
        """One table, ``[key]``, or None."""
        row = self.values.get(key)
        if row is not None and not isinstance(row, dict):
            raise self.error(
                tr(
                    "{where}: write {key} under a line of its own, [{key}].",
                    where=self.where,
                    key=key,
                )
            )
        return None if row is None else Table(f"{self.where}, [{key}]", row, self.error)

    def _row(self, key: str, number: int, row: Mapping[str, Any]) -> "Table":
        name = f" '{row['name']}'" if isinstance(row.get("name"), str) else ""
        return Table(f"{self.where}, {key} {number}{name}", row, self.error)

    def _value(self, key: str, default: Any) -> Any:
        value = self.values.get(key, default)
        if value is None:
            raise self.error(tr("{where}: {key} is missing; add it.", where=self.where, key=key))
        return value


def from_preset_or_file(
    source: Path | str,
    what: str,
    presets: Mapping[str, Made],
    made: Callable[[Table, str], Made],
    error: type[UsageError],
) -> Made:
    """The preset of this name, or what is ``made`` of a TOML file and its bare name."""
    if str(source) in presets:
        return presets[str(source)]
    path = Path(source)
    if not path.suffix and not path.exists():
        raise error(
            tr(
                "The {what} '{source}' is neither a file nor a preset; choose one of {known} or "
                "give a TOML file.",
                what=what,
                source=source,
                known=", ".join(presets),
            )
        )
    return made(read_table(path, what, error), path.stem)


def read_table(path: Path, what: str, error: type[UsageError]) -> Table:
    """A whole TOML file as a table; a syntax slip is reported with its line."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as cause:
        raise error(
            tr(
                "The {what} file {file} can't be read ({cause}); check the name and the rights.",
                what=what,
                file=path,
                cause=cause,
            )
        ) from cause
    try:
        return Table(f"{what} {path.name}", tomllib.loads(text), error)
    # Besides slips, a number of thousands of digits and brackets nested without end.
    except (ValueError, RecursionError) as cause:
        raise error(
            tr(
                "The {what} file {file} is not valid TOML: {cause}; correct that line.",
                what=what,
                file=path,
                cause=cause,
            )
        ) from cause


def _is_number(value: object) -> bool:
    # No measure of a kit or a room is larger; the comparison also keeps out what is no number.
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e12
