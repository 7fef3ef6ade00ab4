"""Every sentence of the pages, in the reader's language, with lengths in the reader's units.

Catalogues lie in ``sitwell/ui/locale`` in the usual gettext folders; ``mark`` names a text for
them and leaves it as it is, ``t`` speaks it on the page that is being built.
"""

import gettext
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from nicegui import app, context

from sitwell.base.units import MM_PER_INCH, feet_from_mm, metres_from_mm

DOMAIN = "pages"
LOCALE = Path(__file__).resolve().parent.parent / "locale"
LANGUAGES = {"en": "English", "de": "Deutsch"}
UNITS = ("metric", "imperial")


@dataclass(frozen=True, slots=True, kw_only=True)
class Preferences:
    """What one browser asked for; kept in its own cookies and nowhere else."""

    language: str = "en"
    units: str = "metric"
    discreet: bool = False


def mark(text: str) -> str:
    """Name ``text`` for the catalogue; it stays as it is."""
    return text


def t(text: str, **gaps: object) -> str:
    """``text`` in the language of the page that is being built, its named gaps filled."""
    return speak(text, preferences().language, **gaps)


def tn(one: str, many: str, count: int) -> str:
    """A text that depends on a count, in the language of the page that is being built."""
    text = _catalogue(preferences().language).ngettext(one, many, count)
    return text.format(count=count)


def speak(text: str, language: str, **gaps: object) -> str:
    """``text`` in a language, its named gaps filled; English where there is no translation."""
    translated = _catalogue(language).gettext(text)
    return translated.format(**gaps) if gaps else translated


def preferences() -> Preferences:
    """The preferences of the browser whose page is being built; plain English elsewhere."""
    if not context.slot_stack:
        return Preferences()
    found = app.storage.client.get("preferences", Preferences())
    return found if isinstance(found, Preferences) else Preferences()


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
        return _imperial(length_mm)
    if abs(length_mm) >= 1000:
        return f"{_decimal(f'{metres_from_mm(length_mm):.2f}')} m"
    return f"{_minus(f'{length_mm / 10:.0f}')} cm"


def _imperial(length_mm: float) -> str:
    inches = round(abs(length_mm) / MM_PER_INCH)
    sign = "−" if length_mm < 0 and inches else ""
    if feet_from_mm(abs(length_mm)) < 2:
        return f"{sign}{inches} in"
    return f"{sign}{inches // 12} ft {inches % 12} in"


def degrees(angle_deg: float) -> str:
    """An angle with its sign, whole degrees: 12°, −4°."""
    return f"{_minus(f'{angle_deg:.0f}')}°"


def number(value: float, digits: int = 1) -> str:
    """A number without idle zeros and never minus zero, with the language's decimal mark."""
    text = f"{value:.{digits}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return _decimal(_minus(text))


def _minus(text: str) -> str:
    return "0" if text in ("-0", "-0.0") else text.replace("-", "−")


def _decimal(text: str) -> str:
    return text.replace(".", ",") if preferences().language == "de" else text


@cache
def _catalogue(language: str) -> gettext.NullTranslations:
    return gettext.translation(DOMAIN, LOCALE, languages=[language], fallback=True)
