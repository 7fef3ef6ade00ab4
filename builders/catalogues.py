"""Bring the catalogues up to date: collect every sentence, merge, compile.

Sentences are those given to ``mark``, ``tr``, ``ntr`` and, in the pages, ``t`` and ``tn``. Needs
Babel: ``python -m builders.catalogues``. What is not translated yet is listed at the end.
"""

from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

from sitwell.base.words import DOMAIN, LOCALE

PACKAGE = Path(__file__).resolve().parent.parent / "sitwell"
# ``mark`` of one argument: the records seal with another.
KEYWORDS = {"mark": {1: None}, "tr": None, "t": None, "ntr": (1, 2), "tn": (1, 2)}
COMMENT = """\
# What Sitwell says, in {language}. Made by builders/catalogues.py out of the sentences in the code;
# edit the msgstr lines here and run it again.
#"""


def main() -> None:
    """Update every catalogue under ``LOCALE``."""
    template = collected()
    for path in catalogues():
        language = path.parent.parent.name
        catalogue = updated(path, template)
        with path.open("wb") as stream:
            write_po(stream, catalogue, width=100, sort_output=True)
        with path.with_suffix(".mo").open("wb") as stream:
            write_mo(stream, catalogue)
        missing = [message.id for message in catalogue if message.id and not message.string]
        print(f"{language}: {len(catalogue)} sentences, {len(missing)} not translated")
        for text in missing:
            print(f"  {text!r}")


def catalogues() -> list[Path]:
    """The catalogue of each language."""
    return sorted(LOCALE.glob(f"*/LC_MESSAGES/{DOMAIN}.po"))


def collected() -> Catalog:
    """Every sentence in the code, without a translation."""
    template = Catalog(project=DOMAIN)
    for _, _, text, _, _ in extract_from_dir(PACKAGE, keywords=KEYWORDS):
        template.add(text)
    return template


def updated(path: Path, template: Catalog) -> Catalog:
    """A catalogue with the sentences of ``template`` and the translations that it has for them."""
    with path.open("rb") as stream:
        known = read_po(stream, locale=path.parent.parent.name)
    catalogue = Catalog(
        locale=known.locale,
        project=DOMAIN,
        version="1",
        header_comment=COMMENT.format(language=known.locale.english_name),
        creation_date=known.creation_date,
        revision_date=known.creation_date,
        msgid_bugs_address="the project",
        last_translator="the project",
        language_team="the project",
        fuzzy=False,
    )
    for message in template:
        if message.id:
            old = known.get(message.id if isinstance(message.id, str) else message.id[0])
            catalogue.add(message.id, old.string if old else None)
    return catalogue


if __name__ == "__main__":
    main()
