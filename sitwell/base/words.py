"""Sentences in the reader's language, named for the catalogue where they are made.

``mark`` names a text for the catalogue and leaves it as it is; ``tr`` tells it in the language that
is spoken, ``ntr`` by a count. What they give is text that remembers how it was made, so that a plan
searched in one language can be read in another: see ``retold``. Catalogues lie in ``locale`` beside
this module, in the usual gettext folders; where one is missing or broken, English is spoken.
"""

import gettext
import os
import re
import struct
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, fields, is_dataclass
from functools import cache
from pathlib import Path
from typing import Any

DOMAIN = "sitwell"
LOCALE = Path(__file__).with_name("locale")
ENGLISH = "en"
GAP = re.compile(r"\{([A-Za-z_][A-Za-z0-9_]*)\}")
MOST_DIGITS = 6
_spoken: ContextVar[str] = ContextVar("language", default="")
_askers: list[Callable[[], str]] = []


@dataclass(frozen=True, slots=True)
class Number:
    """A number in a sentence, without idle zeros beyond its digits unless ``whole``."""

    value: float
    digits: int
    whole: bool = False


KEPT = (str, int, Number)  # as gaps; of anything else, a path say, its text is kept


class Said(str):
    """A told sentence: its text, and the message, gaps and language that it was made of."""

    __slots__ = ("gaps", "language", "many", "message")
    message: str
    many: str
    gaps: dict[str, Any]
    language: str

    def __str__(self) -> str:
        return self

    def __reduce__(self) -> tuple[Any, ...]:
        return _said, (str.__str__(self), self.message, self.many, self.gaps, self.language)

    def with_gaps(self, change: Callable[[str], str]) -> "Said":
        """The same sentence with every plain text in its gaps changed, a file's name say."""
        gaps = {name: _changed(gap, change) for name, gap in self.gaps.items()}
        return _tell(self.message, self.many, gaps)

    def made(self) -> dict[str, Any]:
        """How it was made, in plain JSON values; see ``said_again``."""
        content: dict[str, Any] = {"message": self.message}
        if self.many:
            content["many"] = self.many
        if self.gaps:
            content["gaps"] = {name: _as_json(gap) for name, gap in self.gaps.items()}
        return content


def message_of(text: str) -> str:
    """The message that a told sentence was made of, whatever its language; other text as it is."""
    return text.message if isinstance(text, Said) else text


def mark(text: str) -> str:
    """Name ``text`` for the catalogue; it stays as it is."""
    return text


def tr(message: str, **gaps: object) -> str:
    """``message`` in the language that is spoken, its named gaps filled.

    A gap written with a capital, ``{Move}``, takes the words of ``move`` with a capital.
    """
    return _tell(message, "", gaps)


def ntr(one: str, many: str, count: int, **gaps: object) -> str:
    """The message for one or for many, as the language counts; ``{count}`` is filled as well."""
    return _tell(one, many, {"count": count, **gaps})


def number(value: float, digits: int = 1, *, whole: bool = False) -> str:
    """A number with the language's decimal mark, never minus zero: 3, 2.8, −4, 0.

    Idle zeros are left out unless ``whole``, where a column or a distance wants them.
    """
    return _tell("{number}", "", {"number": Number(value, digits, whole)})


def joined(parts: Sequence[str], between: str = " ") -> str:
    """Sentences or names one after another, each still able to be told again."""
    names = [f"part{index}" for index in range(len(parts))]
    pattern = between.join(f"{{{name}}}" for name in names)
    return tr(pattern, **dict(zip(names, parts, strict=True)))


def retold(text: str) -> str:
    """A told sentence in the language that is spoken now; other text stays as it is."""
    if isinstance(text, Said) and text.language != language():
        return _tell(text.message, text.many, text.gaps)
    return text


def renamed(text: str, names: Mapping[str, str]) -> str:
    """A sentence with names in it, files' say, called as the reader knows them."""

    def known(words: str) -> str:
        for ours, theirs in names.items():
            words = words.replace(ours, theirs)
        return words

    return text.with_gaps(known) if isinstance(text, Said) else known(text)


def said_again(made: Mapping[str, Any]) -> str:
    """The sentence that ``Said.made`` described; an error of its values where it is damaged."""
    gaps = {str(name): _from_json(gap) for name, gap in made.get("gaps", {}).items()}
    return _tell(str(made["message"]), str(made.get("many", "")), gaps)


def how_told(value: Any) -> dict[str, Any]:
    """How each sentence of a frozen value was made, by its text, in plain JSON values."""
    if isinstance(value, Said):
        return {value: value.made()}
    inner: Sequence[Any] = value if isinstance(value, tuple) else ()
    if is_dataclass(value):
        inner = [getattr(value, field.name) for field in fields(value)]
    return {text: made for part in inner for text, made in how_told(part).items()}


def told_again(plain: Any, made: Mapping[str, Any]) -> Any:
    """JSON with the sentences that ``how_told`` described told in the language spoken now.

    An error of its values, such as KeyError or TypeError, where the description is damaged.
    """
    if isinstance(plain, Mapping):
        return {name: told_again(part, made) for name, part in plain.items()}
    if isinstance(plain, list):
        return [told_again(part, made) for part in plain]
    return said_again(made[plain]) if isinstance(plain, str) and plain in made else plain


def language() -> str:
    """The language that is spoken: as said by ``spoken``, the page, or SITWELL_LANGUAGE."""
    for ask in (_spoken.get, *_askers):
        if found := ask():
            return _known(found)
    return _known(os.environ.get("SITWELL_LANGUAGE", ""))


@cache
def languages() -> tuple[str, ...]:
    """Every language that can be spoken, English first."""
    return ENGLISH, *sorted(path.name for path in LOCALE.iterdir() if path.is_dir())


@contextmanager
def spoken(language: str) -> Iterator[None]:
    """Speak a language within; "" leaves it as it is outside."""
    before = _spoken.set(language or _spoken.get())
    try:
        yield
    finally:
        _spoken.reset(before)


def ask_for_language(ask: Callable[[], str]) -> None:
    """Let ``ask`` tell the language, "" where it knows none: a page knows its own reader's."""
    if ask not in _askers:
        _askers.append(ask)


@cache
def _known(tag: str) -> str:
    """The language of a tag such as "de" or "de_AT.UTF-8"; English where it can't be spoken."""
    found = tag.lower().replace("_", "-").replace(".", "-").partition("-")[0]
    return found if found in languages() else ENGLISH


def _tell(message: str, many: str, gaps: Mapping[str, Any]) -> Said:
    here = language()
    catalogue = _catalogue(here)
    if many:
        text = catalogue.ngettext(message, many, gaps["count"])
    else:
        text = catalogue.gettext(message) if message else ""  # "" is the catalogue's own heading
    shown = {name: _shown(gap) for name, gap in gaps.items()}
    try:
        filled = _filled(text, shown)
    except KeyError:  # a slip in the catalogue ends no shoot
        filled = _filled(message, shown)
    kept = {name: gap if isinstance(gap, KEPT) else str(gap) for name, gap in gaps.items()}
    return _said(filled, message, many, kept, here)


def _said(text: str, message: str, many: str, gaps: dict[str, Any], language: str) -> Said:
    said = Said(text)
    said.message, said.many, said.gaps, said.language = message, many, gaps, language
    return said


def _filled(text: str, gaps: Mapping[str, str]) -> str:
    """The text with its named gaps filled, and nothing else: a message may come from a file."""

    def words(gap: re.Match[str]) -> str:
        name = gap[1]
        if name in gaps:
            return gaps[name]
        small = gaps[name[:1].lower() + name[1:]]
        return small[:1].upper() + small[1:]

    return GAP.sub(words, text) if gaps else text


def _shown(gap: object) -> str:
    if isinstance(gap, Number):
        text = f"{gap.value:.{gap.digits}f}"
        if "." in text and not gap.whole:
            text = text.rstrip("0").rstrip(".")
        text = text.removeprefix("-") if float(text) == 0.0 else text.replace("-", "−")
        return text.replace(".", _decimal_mark(language()))
    return retold(gap) if isinstance(gap, str) else str(gap)


def _changed(gap: Any, change: Callable[[str], str]) -> Any:
    if isinstance(gap, Said):
        return gap.with_gaps(change)
    return change(gap) if isinstance(gap, str) else gap


def _as_json(gap: Any) -> Any:
    if isinstance(gap, Said):
        return gap.made()
    if isinstance(gap, Number):
        return {"number": gap.value, "digits": gap.digits, "whole": gap.whole}
    return gap if isinstance(gap, int) else str(gap)


def _from_json(gap: Any) -> Any:
    if not isinstance(gap, Mapping):
        return gap
    if "number" in gap:
        digits = min(max(int(gap["digits"]), 0), MOST_DIGITS)
        return Number(float(gap["number"]), digits, bool(gap["whole"]))
    return said_again(gap)


@cache
def _decimal_mark(language: str) -> str:
    """What the language writes between the digits of "0.5"."""
    return _catalogue(language).gettext(mark("0.5"))[1:-1]


@cache
def _catalogue(language: str) -> gettext.NullTranslations:
    try:
        return gettext.translation(DOMAIN, LOCALE, languages=[language], fallback=True)
    except (OSError, ValueError, struct.error):  # a broken catalogue: English
        return gettext.NullTranslations()
