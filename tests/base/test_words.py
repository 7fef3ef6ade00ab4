"""Sentences in every language, told again in another, and never a gap left or a sentence lost."""

import gettext
import json
import pickle
import string
from copy import deepcopy

import pytest
from babel.messages.pofile import read_po

from builders.catalogues import catalogues, collected
from sitwell.base import words
from sitwell.base.units import distance_words, plain_number
from sitwell.base.words import joined, ntr, number, renamed, retold, said_again, spoken, tr

# Where readers measure in metres alone, these may be left out of a length.
FEET_TOO = {"feet", "inches"}


def catalogue(path):
    with path.open("rb") as stream:
        return read_po(stream, locale=path.parent.parent.name)


def pairs(message):
    ids = message.id if isinstance(message.id, tuple) else (message.id,)
    texts = message.string if isinstance(message.string, tuple) else (message.string,)
    return zip(ids, texts, strict=True)


def gaps(text):
    return {name[:1].lower() + name[1:] for _, name, _, _ in string.Formatter().parse(text) if name}


@pytest.mark.parametrize("path", catalogues(), ids=lambda path: path.parent.parent.name)
def test_every_sentence_of_the_code_is_translated_and_keeps_its_gaps(path):
    known = catalogue(path)
    assert {message.id for message in known} == {message.id for message in collected()}
    for message in known:
        for given, text in pairs(message):
            if given:
                assert text, given
                assert gaps(text) | (gaps(given) & FEET_TOO) == gaps(given), given


@pytest.mark.parametrize("path", catalogues(), ids=lambda path: path.parent.parent.name)
def test_the_compiled_catalogue_is_the_one_that_is_written(path):
    compiled = gettext.translation(words.DOMAIN, words.LOCALE, [path.parent.parent.name])
    for message in catalogue(path):
        if isinstance(message.id, tuple):
            told = tuple(compiled.ngettext(*message.id, count) for count in (1, 2))
            assert told == message.string
        elif message.id and message.string:
            assert compiled.gettext(message.id) == message.string


def test_a_language_is_spoken_within_and_no_longer():
    assert words.languages() == ("en", "de")
    with spoken("de"):
        assert tr("chin") == "Kinn"
        with spoken(""):
            assert tr("chin") == "Kinn"
    assert tr("chin") == "chin"


@pytest.mark.parametrize(
    ("tag", "word"),
    [("de", "Kinn"), ("de_AT.UTF-8", "Kinn"), ("DE-ch", "Kinn"), ("xx", "chin"), ("..", "chin")],
)
def test_the_environment_names_the_language(monkeypatch, tag, word):
    monkeypatch.setenv("SITWELL_LANGUAGE", tag)
    assert tr("chin") == word


def test_numbers_and_lengths_carry_the_languages_decimal_mark():
    assert [number(v) for v in (3.0, 2.8, -0.01, -1.25)] == ["3", "2.8", "0", "−1.2"]
    assert [number(v, whole=True) for v in (3.0, -0.01)] == ["3.0", "0.0"]
    assert distance_words(1800.0) == "1.80 m (5 ft 11 in)"
    with spoken("de"):
        assert plain_number(2.8) == "2,8"
        assert distance_words(1800.0) == "1,80 m"


def test_a_gap_with_a_capital_takes_the_same_words_with_a_capital():
    assert tr("{Move} helps; keep {move}.", move="the turn") == "The turn helps; keep the turn."


def test_one_and_many_are_told_apart():
    told = [ntr("{count} frame", "{count} frames", count) for count in (1, 2)]
    assert told == ["1 frame", "2 frames"]
    with spoken("de"):
        assert [retold(text) for text in told] == ["1 Bild", "2 Bilder"]


def long_sentence():
    return joined([tr("{stops} stops", stops=number(1.5)), tr("aim for {value}", value=tr("chin"))])


@pytest.mark.parametrize(
    "kept",
    [
        lambda text: text,
        lambda text: pickle.loads(pickle.dumps(text)),
        deepcopy,
        lambda text: said_again(json.loads(json.dumps(text.made()))),
        lambda text: str(ValueError(text)),
    ],
    ids=["as it is", "pickled", "copied", "as JSON", "in an error"],
)
def test_a_told_sentence_can_be_told_again_in_another_language(kept):
    text = kept(long_sentence())
    assert text == "1.5 stops aim for chin"
    with spoken("de"):
        assert retold(text) == "1,5 Blendenstufen Ziel: Kinn"
        german = long_sentence()
    assert retold(german) == text
    assert retold("as it is") == "as it is"


def test_nothing_is_told_as_nothing():
    with spoken("de"):
        assert tr("") == joined([]) == ""


def test_names_in_a_sentence_can_be_changed():
    text = renamed(tr("Open {name}", name="ours.jpg"), {"ours": "theirs"})
    assert text == "Open theirs.jpg"
    assert renamed("Open ours.jpg", {"ours": "theirs"}) == text
    with spoken("de"):
        assert retold(text) == "theirs.jpg öffnen"


def test_a_slip_in_a_catalogue_ends_in_english(tmp_path, monkeypatch):
    broken = tmp_path / "de" / "LC_MESSAGES"
    broken.mkdir(parents=True)
    (broken / "sitwell.mo").write_bytes(b"\xde\x12\x04\x95 cut short")
    monkeypatch.setattr(words, "LOCALE", tmp_path)
    words._catalogue.cache_clear()
    try:
        with spoken("de"):
            assert tr("chin") == "chin"
    finally:
        words._catalogue.cache_clear()


def test_a_gap_that_a_translation_invents_ends_in_english(monkeypatch):
    class Slip(gettext.NullTranslations):
        def gettext(self, message):
            return "{nothing} " + message

    monkeypatch.setattr(words, "_catalogue", lambda language: Slip())
    assert tr("aim for {value}", value="2") == "aim for 2"
