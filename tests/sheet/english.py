"""Words that only the English sentences have: none may be left on a German sheet or page."""

import re
from functools import cache

from babel.messages.pofile import read_po

from builders.catalogues import catalogues

WORD = re.compile(r"[^\W\d_][^\W\d_’']+")
GAP = re.compile(r"\{\w+\}")
# File names and what a program is called are the same in every language.
NAMES = re.compile(r"[\w-]+\.(jpe?g|png|pdf|json|xmp)|sitwell \w+|https?://\S+", re.IGNORECASE)


def english_left(text: str) -> set[str]:
    """The English words in a text that should be German."""
    return words_of(text) & _english_only()


def words_of(text: str) -> set[str]:
    """The words of a text, small, without its gaps and file names."""
    return {word.lower() for word in WORD.findall(NAMES.sub(" ", GAP.sub(" ", text)))}


@cache
def _english_only() -> set[str]:
    (path,) = catalogues()
    with path.open("rb") as stream:
        known = read_po(stream, locale="de")
    english, german = set(), set()
    for message in known:
        ids = message.id if isinstance(message.id, tuple) else (message.id,)
        texts = message.string if isinstance(message.string, tuple) else (message.string,)
        if message.id:
            english |= set().union(*map(words_of, ids))
            german |= set().union(*map(words_of, texts))
    return english - german
