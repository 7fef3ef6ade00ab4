"""Every sentence can be looked up, filled in, and read without a code or a placeholder."""

import gettext
import string

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
            for side in ("left", "right"):
                if side in text.split():
                    assert text in {f"{who} {side}" for who in ("your", "camera", "own")}, text
    assert set(names.WITH_OWN_SIDE.values()) == {
        "{name}, own left,",
        "{name}, own right,",
    }


def test_a_translation_is_used_at_the_moment_of_speaking(monkeypatch):
    swapped = {"Lift your chin {amount}.": "{amount}: Kinn hoch."}
    monkeypatch.setattr(gettext, "dgettext", lambda domain, text: swapped.get(text, text))
    assert say(sentences.CHIN_UP, amount="a touch") == "a touch: Kinn hoch."


def test_without_a_catalogue_english_is_spoken():
    assert say(sentences.DROP_SHOULDERS) == sentences.DROP_SHOULDERS
