"""The sitter's skin from frames whose truth is known: true where seen, unknown where not."""

import dataclasses

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sitwell.base.errors import FaceError, HeadError, PhotoError
from sitwell.head.reading import Reading
from sitwell.head.regions import Region
from sitwell.head.surface import build_head
from sitwell.scene.preview import Sculpture
from sitwell.scene.setup import Setup
from sitwell.scene.skin_merge import skin_from_frames

from .sitting import EYES, SHAPE, exposed, painted, setups, take, tone_of

WIDTH_PX, HEIGHT_PX = 320, 400
NEW_LIGHT = {"key_azimuth_deg": -40.0, "key_elevation_deg": 40.0}


@pytest.fixture(scope="module")
def head():
    return build_head(SHAPE)


@pytest.fixture(scope="module")
def truth(head):
    return painted(head)


@pytest.fixture(scope="module")
def three(tmp_path_factory, head, truth):
    """The reading of three frames, and the skin from them."""
    taken = setups((0.0, 26.0, -26.0))
    reading = take(tmp_path_factory.mktemp("three"), head, truth, taken)
    return reading, skin_from_frames(reading)


@pytest.fixture(scope="module")
def as_taken(head, truth, three):
    """The true skin under the frames' own exposure: all that frames can tell."""
    return exposed(truth, three[1].luminance / tone_of(head, truth))


def psnr(first, second, chosen):
    off = first[chosen].astype(float) - second[chosen].astype(float)
    return 10.0 * np.log10(255.0**2 / (off**2).mean())


def known_pixels(head, skin, setup):
    """Pixels of painted skin that show only what a frame saw.

    They change when all paint changes, and not when what stands for the unknown does.
    """
    texels = skin.paint.texels.copy()
    texels[:, :3] *= 0.5
    dim = _pictured(head, skin, texels, setup)
    texels = skin.paint.texels.copy()
    texels[texels[:, 3] < 0.98, :3] = (0.0, 1.0, 0.0)
    first = Sculpture(head, skin).render(setup, WIDTH_PX, HEIGHT_PX)
    same = (first == _pictured(head, skin, texels, setup)).all(axis=2)
    return same & (first != dim).any(axis=2)


def _pictured(head, skin, texels, setup):
    paint = dataclasses.replace(skin.paint, texels=texels)
    painted = dataclasses.replace(skin, paint=paint)
    return Sculpture(head, painted).render(setup, WIDTH_PX, HEIGHT_PX)


@pytest.mark.parametrize("turn_deg", [0.0, 14.0, -20.0, 33.0])
@pytest.mark.parametrize("changes", [{}, NEW_LIGHT], ids=["same-light", "new-light"])
def test_what_was_seen_is_true_at_other_turns_and_in_other_light(
    head, as_taken, three, turn_deg, changes
):
    setup = Setup(turn_deg=turn_deg, chin_deg=4.0, framing="tight-head", **changes)
    seen = Sculpture(head, three[1]).render(setup, WIDTH_PX, HEIGHT_PX)
    true = Sculpture(head, as_taken).render(setup, WIDTH_PX, HEIGHT_PX)
    known = known_pixels(head, three[1], setup)
    assert known.mean() > 0.25
    plain = Sculpture(head).render(setup, WIDTH_PX, HEIGHT_PX)
    assert psnr(seen, true, known) > 38.0
    assert psnr(seen, true, known) > psnr(plain, true, known) + 15.0


def test_nothing_shows_double(head, as_taken, three):
    # the spots of the pattern are as dark and as many as they truly are: blends would wash them out
    setup = Setup(turn_deg=13.0, framing="tight-head")
    seen, true = (
        Sculpture(head, skin).render(setup, WIDTH_PX, HEIGHT_PX).astype(float).mean(axis=2)
        for skin in (three[1], as_taken)
    )
    known = known_pixels(head, three[1], setup)
    for picture in (seen, true):
        picture[~known] = np.nan
    rough = [np.nanstd(np.diff(picture, axis=1)) for picture in (seen, true)]
    assert 0.85 < rough[0] / rough[1] < 1.1


def test_the_far_side_of_one_turned_frame_stays_unknown(tmp_path, head, truth):
    skin = skin_from_frames(take(tmp_path, head, truth, setups((38.0,))))
    near, far = Region.EAR_OWN_RIGHT, Region.EAR_OWN_LEFT
    known = {region: skin.known[head.region_of_triangle == region].mean() for region in (near, far)}
    assert known[near] > 0.3
    assert known[far] == 0.0
    assert skin.known[head.region_of_triangle == Region.CHEEK_OWN_RIGHT].mean() > 0.8


def test_the_unknown_share_grows_as_the_head_turns_away_from_what_was_seen(
    tmp_path, head, truth, three
):
    one = Sculpture(head, skin_from_frames(take(tmp_path, head, truth, setups((0.0,)))))
    shares = [one.unknown_share(Setup(turn_deg=turn)) for turn in (0.0, 20.0, 40.0, 80.0)]
    assert shares == sorted(shares)
    assert shares[0] < 0.2
    assert shares[-1] > 0.4
    assert Sculpture(head, three[1]).unknown_share(Setup(turn_deg=40.0)) < 0.6 * shares[2]
    assert Sculpture(head).unknown_share(Setup()) == 0.0


def test_a_bright_background_never_gets_onto_the_head(tmp_path, head, truth):
    taken = setups((0.0, 26.0, -26.0))
    skin = skin_from_frames(take(tmp_path, head, truth, taken, tint=(30, 220, 40)))
    red, green, _ = skin.paint.texels[:, :3].astype(np.float64).T
    sure = skin.paint.texels[:, 3] > 0.5
    assert (green > 1.3 * red)[sure].mean() < 0.002


def test_the_eyes_take_their_colours_from_the_frames(as_taken, three):
    white = as_taken.eyes["own_left"].white
    for eye in three[1].eyes.values():
        assert_allclose(eye.iris / eye.iris.sum(), EYES.iris / EYES.iris.sum(), atol=0.06)
        assert_allclose(eye.white, white, rtol=0.25)


def test_the_caption_names_the_frames_and_the_unknown_share(head, three):
    said = Sculpture(head, three[1]).caption(Setup(turn_deg=60.0))
    share = Sculpture(head, three[1]).unknown_share(Setup(turn_deg=60.0))
    assert said == (
        "The skin is from frame-0.png, frame-1.png and frame-2.png: what was in no frame "
        f"({100 * share:.0f} % of the head in view) is hatched, and hair lies flat on the head."
    )
    assert Sculpture(head).caption(Setup()) == ""


def test_measures_do_not_see_the_skin(head, three):
    setup = Setup(turn_deg=12.0)
    plain, worn = Sculpture(head), Sculpture(head, three[1])
    first = plain._observer.view(setup).region_area
    assert first == worn._observer.view(setup).region_area


def test_frames_of_another_head_are_left_out(three):
    reading = three[0]
    stranger = dataclasses.replace(
        reading.frames[1],
        fitted=dataclasses.replace(
            reading.frames[1].fitted, shape=reading.frames[1].fitted.shape + 0.1
        ),
    )
    mixed = dataclasses.replace(reading, frames=(reading.frames[0], stranger))
    assert skin_from_frames(mixed).files == ("frame-0.png",)


def test_frames_that_are_gone_are_said_in_a_sentence(three, tmp_path):
    reading = three[0]
    nowhere = [dataclasses.replace(frame, path=None) for frame in reading.frames]
    with pytest.raises(HeadError, match="No frame that gave the head can be read again"):
        skin_from_frames(dataclasses.replace(reading, frames=tuple(nowhere)))
    gone = dataclasses.replace(reading.frames[0], path=tmp_path / "gone.png")
    with pytest.raises(PhotoError, match=r"There is no file '.*gone\.png'; check the name\."):
        skin_from_frames(dataclasses.replace(reading, frames=(gone,)))
    with pytest.raises(FaceError, match="No face was found; give a photograph"):
        skin_from_frames(Reading(frames=(), fit=None, notes=()))
