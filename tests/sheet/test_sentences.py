"""Every sentence can be looked up, filled in, and read without a code or a placeholder."""

import re
import string
from itertools import pairwise

from sitwell.base.words import spoken
from sitwell.sheet import care, names, sentences
from sitwell.sheet.sentences import say


def texts_of(module):
    for name, value in vars(module).items():
        if name.isupper() and name != "DOMAIN":
            yield from texts_in(value)


def texts_in(value):
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for inner in value.values():
            yield from texts_in(inner)
    elif isinstance(value, tuple):
        for inner in value:
            yield from texts_in(inner)


def test_gaps_are_named_so_that_a_translation_may_reorder_them():
    for text in texts_of(sentences):
        for _, gap, _, _ in string.Formatter().parse(text):
            assert gap is None or gap.isidentifier(), text


def test_no_sentence_names_a_bare_left_or_right():
    for module in (sentences, care):
        for text in texts_of(module):
            for who, side in pairwise(["", *re.findall(r"\w+", text)]):
                assert side not in ("left", "right") or who in ("your", "camera", "own"), text
    assert set(names.WITH_OWN_SIDE.values()) == {
        "{name}, sitter’s own left",
        "{name}, sitter’s own right",
    }


def test_a_sentence_is_translated_at_the_moment_of_speaking():
    with spoken("de"):
        assert say(sentences.CHIN_UP, amount=say(sentences.TOUCH)) == (
            "Heben Sie das Kinn einen Hauch."
        )
    assert say(sentences.CHIN_UP, amount=say(sentences.TOUCH)) == "Lift your chin a touch."
