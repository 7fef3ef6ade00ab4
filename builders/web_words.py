"""Bring the catalogues of the pages up to date: collect texts, merge them, compile them.

Texts are those given to ``t``, ``tn`` and ``mark`` in the pages, and the fixed names that the
pages show from other folders. Needs Babel: ``python builders/web_words.py``.
"""

from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

from sitwell.brief.kit import APS_C, FOUR_THIRDS, FULL_FRAME
from sitwell.brief.wishes import FEATURES
from sitwell.scene.measures import NAMES as MEASURES
from sitwell.search.guards import make_guards
from sitwell.search.sentences import STAGES
from sitwell.sheet.names import measure_name, wish_name
from sitwell.sheet.page import NOTICE

ROOT = Path(__file__).resolve().parent.parent
PAGES = ROOT / "sitwell" / "ui" / "web"
LOCALE = ROOT / "sitwell" / "ui" / "locale"
KEYWORDS = {"t": None, "mark": None, "tn": (1, 2)}


def main() -> None:
    """Update every catalogue under ``LOCALE``."""
    template = collected()
    for path in sorted(LOCALE.glob("*/LC_MESSAGES/pages.po")):
        with path.open("rb") as stream:
            catalogue = read_po(stream, locale=path.parent.parent.name)
        catalogue.update(template, no_fuzzy_matching=True)
        catalogue.obsolete.clear()
        with path.open("wb") as stream:
            write_po(stream, catalogue, width=100, omit_header=False, sort_output=True)
        with path.with_suffix(".mo").open("wb") as stream:
            write_mo(stream, catalogue)
        missing = [message.id for message in catalogue if message.id and not message.string]
        print(f"{path.parent.parent.name}: {len(catalogue)} texts, {len(missing)} not translated")
        for text in missing:
            print(f"  {text!r}")


def collected() -> Catalog:
    """Every text that a page may speak."""
    template = Catalog(project="sitwell")
    for _, _, text, _, _ in extract_from_dir(PAGES, keywords=KEYWORDS):
        template.add(text)
    for text in shown_names():
        template.add(text)
    return template


def shown_names() -> set[str]:
    """Fixed words of the sheet and the search that the pages show."""
    guards = {guard.name for guard in make_guards(_Anything())}
    return (
        {measure_name(measure).removesuffix(",") for measure in MEASURES}
        | {wish_name(wish) for wish in FEATURES}
        | {text for _, text in NOTICE}
        | set(STAGES.values())
        | guards
        | {camera.name for camera in (FULL_FRAME, APS_C, FOUR_THIRDS)}
    )


class _Anything(dict[str, float]):
    """A baseline that knows every measure."""

    def __missing__(self, key: str) -> float:
        return 1.0


if __name__ == "__main__":
    main()
