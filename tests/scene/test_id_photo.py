"""Formats of identity pictures: known by their names and shapes, and nothing else is."""

import pytest

from sitwell.scene.framing import picture_size_mm
from sitwell.scene.id_photo import NAMED, aspect_of, is_id_format, looks_like_id
from sitwell.scene.setup import ASPECTS, FRAMINGS, Setup


@pytest.mark.parametrize("name", [*NAMED, "35 x 45", "2X2", "7:9"])
def test_a_name_gives_an_aspect_that_a_setup_takes(name):
    assert is_id_format(name)
    assert Setup(aspect=aspect_of(name)).aspect in ("7:9", "1:1")


def test_a_passport_picture_is_35_by_45():
    width_mm, height_mm = picture_size_mm(Setup(aspect=aspect_of("35x45")))
    assert width_mm / height_mm == pytest.approx(35.0 / 45.0)


@pytest.mark.parametrize("aspect", [*ASPECTS, "round"])
def test_other_words_stay_as_they_are(aspect):
    assert aspect_of(aspect) == aspect
    assert not is_id_format(aspect)


@pytest.mark.parametrize("framing", FRAMINGS)
@pytest.mark.parametrize("aspect", [*ASPECTS, "7:9"])
def test_only_7_to_9_and_a_tight_square_look_like_an_identity_picture(framing, aspect):
    expected = aspect == "7:9" or (aspect, framing) == ("1:1", "tight-head")
    assert looks_like_id(Setup(framing=framing, aspect=aspect)) == expected
