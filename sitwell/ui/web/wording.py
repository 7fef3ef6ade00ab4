"""Every sentence of the pages, in the reader's language, with lengths in the reader's units.

While a page is built or answers, ``base.words`` speaks the language of the browser it is for; ``t``
tells a text of the pages, or a sentence that was told elsewhere, in it.
"""

from dataclasses import dataclass

from nicegui import app
from nicegui.slot import Slot

from sitwell.base import words
from sitwell.base.units import CENTIMETRES, METRES, ask_for_units, imperial_words, metres_from_mm

LANGUAGES = {"en": "English", "de": "Deutsch"}
UNITS = ("metric", "imperial")


@dataclass(frozen=True, slots=True, kw_only=True)
class Preferences:
    """What one browser asked for; kept in its own cookies and nowhere else."""

    language: str = "en"
    units: str = "metric"
    discreet: bool = False
    one_page: bool = False  # a phone that was let in to this page alone


mark, tn = words.mark, words.ntr


def t(text: str, **gaps: object) -> str:
    """``text`` in the language of the page that is being built, its named gaps filled."""
    return words.retold(text) if isinstance(text, words.Said) else words.tr(text, **gaps)


def speak(text: str, language: str) -> str:
    """``text`` in a language; English where there is no translation."""
    with words.spoken(language):
        return words.tr(text)


def preferences() -> Preferences:
    """The preferences of the browser whose page is being built; plain English elsewhere."""
    return _known_preferences() or Preferences()


def _known_preferences() -> Preferences | None:
    # asked for wherever something is said, also in threads: the framework's own context would make
    # a page of its own there
    if not Slot.get_stack():
        return None
    found = app.storage.client.get("preferences")
    return found if isinstance(found, Preferences) else None


def preferences_from(cookies: dict[str, str], accept_language: str = "") -> Preferences:
    """Preferences out of a request's cookies; the browser's own language where none was chosen."""
    wanted = cookies.get("sitwell_language", "")
    if wanted not in LANGUAGES:
        wanted = "de" if accept_language.strip().lower().startswith("de") else "en"
    units = cookies.get("sitwell_units", "metric")
    return Preferences(
        language=wanted,
        units=units if units in UNITS else "metric",
        discreet=cookies.get("sitwell_discreet") == "1",
    )


def length(length_mm: float, units: str | None = None) -> str:
    """A length in the reader's units: 1.80 m or 35 cm, 5 ft 11 in or 14 in."""
    if (units or preferences().units) == "imperial":
        return imperial_words(length_mm)
    if abs(length_mm) >= 1000:
        return words.tr(METRES, metres=words.number(metres_from_mm(length_mm), 2, whole=True))
    return words.tr(CENTIMETRES, centimetres=words.number(length_mm / 10, 0))


def degrees(angle_deg: float) -> str:
    """An angle with its sign, whole degrees: 12°, −4°."""
    return f"{words.number(angle_deg, 0)}°"


def number(value: float, digits: int = 1) -> str:
    """A number without idle zeros and never minus zero, with the language's decimal mark."""
    return words.number(value, digits)


def _readers_language() -> str:
    """The language of the page that is being built; "" where none is."""
    known = _known_preferences()
    return known.language if known else ""


def _readers_units() -> str:
    """The units of the page that is being built; "" where none is."""
    known = _known_preferences()
    return known.units if known else ""


words.ask_for_language(_readers_language)
ask_for_units(_readers_units)
