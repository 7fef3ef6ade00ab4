"""The picture itself, held against the frames that it is made from, which are drawn and known."""

import cv2
import numpy as np
import pytest
from scipy.ndimage import binary_erosion
from skimage.metrics import structural_similarity

from builders.pictures.plain_frames import painted
from sitwell.head.surface import build_head
from sitwell.likeness.likeness import likeness_of
from sitwell.scene.preview import Sculpture, picture_window
from tests.likeness.sitting import SHAPE, framed, setups, take

WIDTH_PX, TALL_PX = 360, 540
SHARP = {"f_number": 16.0}
LUMINANCE = np.array([0.2126, 0.7152, 0.0722])


@pytest.fixture(scope="module")
def head():
    return build_head(SHAPE)


@pytest.fixture(scope="module")
def skin(head):
    return painted(head)


@pytest.fixture(scope="module")
def taken():
    return setups((0.0, 26.0), fill_ratio=2.0, **SHARP)


@pytest.fixture(scope="module")
def readings(tmp_path_factory, head, skin, taken):
    """Of the first frame alone, and of both."""
    folder = tmp_path_factory.mktemp("frames")
    one, two = folder / "one", folder / "two"
    one.mkdir()
    two.mkdir()
    return take(one, head, skin, taken[:1]), take(two, head, skin, taken)


@pytest.fixture(scope="module")
def alone(readings, head):
    return likeness_of(readings[0], head)


@pytest.fixture(scope="module")
def both(readings, head):
    return likeness_of(readings[1], head)


def frame_of(skin, setup):
    """The frame as it was taken, cut as the set-up's picture is, and where the head shows."""
    shot = framed(skin, setup)
    left, top, scale = picture_window(shot.view, WIDTH_PX, TALL_PX)
    by = shot.window[2] / scale
    matrix = np.array(
        [
            [by, 0.0, (left - shot.window[0]) * shot.window[2] + 0.5 * by - 0.5],
            [0.0, by, (shot.window[1] - top) * shot.window[2] + 0.5 * by - 0.5],
        ]
    )
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    cut = cv2.warpAffine(shot.rgb, matrix, (WIDTH_PX, TALL_PX), flags=flags)
    covered = cv2.warpAffine(
        shot.covered.astype(np.uint8), matrix, (WIDTH_PX, TALL_PX), flags=flags
    )
    chin = shot.view.camera.project(shot.view.point_mm("chin"))[1]
    covered[int((top - chin) * scale) :] = 0
    return cut, covered > 0


def likeness_inside(one, other, chosen):
    grey = (picture.astype(float) @ LUMINANCE for picture in (one, other))
    return structural_similarity(*grey, data_range=255.0, full=True)[1][chosen].mean()


@pytest.mark.parametrize("place", [0, 1])
def test_at_a_frames_own_pose_the_picture_is_that_frame(both, skin, taken, place):
    made = both.picture(taken[place], WIDTH_PX, TALL_PX)
    frame, inside = frame_of(skin, taken[place])
    assert likeness_inside(frame, made.pixels, inside) > 0.97
    assert both.reach(taken[place]).from_frame_deg < 0.1


@pytest.mark.parametrize("turn_deg", [-10.0, 10.0])
def test_ten_degrees_away_it_beats_the_frame_left_as_it_is(alone, skin, taken, turn_deg):
    setup = taken[0].with_changes(turn_deg=turn_deg)
    made = alone.picture(setup, WIDTH_PX, TALL_PX).pixels
    truth, inside = frame_of(skin, setup)
    still, _ = frame_of(skin, taken[0])
    assert likeness_inside(truth, made, inside) > likeness_inside(truth, still, inside) + 0.05
    assert likeness_inside(truth, made, inside) > 0.93


@pytest.mark.parametrize("turn_deg", [-20.0, 0.0, 20.0])
@pytest.mark.parametrize("chin_deg", [-6.0, 6.0])
def test_the_head_has_no_hole(alone, head, taken, turn_deg, chin_deg):
    """No background shows where the head lies: it is told by a colour that no skin has."""
    setup = taken[0].with_changes(turn_deg=turn_deg, chin_deg=chin_deg, background_stops=-12.0)
    dark = alone.picture(setup, WIDTH_PX, TALL_PX).pixels.astype(int)
    light = alone.picture(setup.with_changes(background_stops=0.0), WIDTH_PX, TALL_PX).pixels
    shows_background = np.abs(light.astype(int) - dark).max(axis=2) > 12
    plain = Sculpture(head).render(setup, WIDTH_PX, TALL_PX).astype(int)
    lit = Sculpture(head).render(setup.with_changes(background_stops=0.0), WIDTH_PX, TALL_PX)
    on_head = np.abs(lit.astype(int) - plain).max(axis=2) < 3
    chin = Sculpture(head).view(setup)
    _left, top, scale = picture_window(chin, WIDTH_PX, TALL_PX)
    low = int((top - chin.camera.project(chin.point_mm("chin"))[1]) * scale) - 30  # not the neck
    inner = binary_erosion(on_head, iterations=5)[:low]
    assert inner.sum() > 5000
    assert not (shows_background[:low] & inner).any()


@pytest.mark.parametrize("key_azimuth_deg", [-50.0, 20.0, 60.0])
def test_the_skin_keeps_its_tone_in_any_light(alone, head, skin, taken, key_azimuth_deg):
    """The middle of the face is within 0.2 stop of the frame's."""
    setup = taken[0].with_changes(key_azimuth_deg=key_azimuth_deg)
    made = alone.picture(setup, WIDTH_PX, TALL_PX).pixels
    frame, _ = frame_of(skin, taken[0])
    middle = middle_of(head, taken[0])
    stops = np.log2(light_of(made, middle) / light_of(frame, middle))
    assert abs(stops) < 0.2


def middle_of(head, setup):
    """The pixels of nose and inner cheeks."""
    view = Sculpture(head).view(setup)
    left, top, scale = picture_window(view, WIDTH_PX, TALL_PX)
    x, y, _ = view.camera.project(view.point_mm("nose_ridge_5"))
    column, row = int((x - left) * scale), int((top - y) * scale)
    chosen = np.zeros((TALL_PX, WIDTH_PX), dtype=bool)
    chosen[row - 20 : row + 30, column - 45 : column + 45] = True
    return chosen


def light_of(picture, chosen):
    value = picture[chosen] / 255.0
    linear = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)
    return np.cbrt(linear @ LUMINANCE).mean() ** 3


def test_the_new_light_moves_to_the_side_of_the_key(alone, taken):
    made = [
        alone.picture(
            taken[0].with_changes(key_azimuth_deg=azimuth_deg), WIDTH_PX, TALL_PX
        ).pixels.astype(float)
        for azimuth_deg in (-60.0, 60.0)
    ]
    differ = (made[1] - made[0]).mean(axis=2)[TALL_PX // 4 : TALL_PX // 2]
    assert differ[:, WIDTH_PX // 2 : -80].mean() > 2.0 > -2.0 > differ[:, 80 : WIDTH_PX // 2].mean()


def test_a_second_frame_shows_what_the_first_did_not(alone, both, taken):
    setup = taken[0].with_changes(turn_deg=12.0)
    one = alone.picture(setup, WIDTH_PX, TALL_PX)
    two = both.picture(setup, WIDTH_PX, TALL_PX)
    assert two.made_up_share < one.made_up_share


def test_what_is_made_up_can_be_told(alone, taken):
    setup = taken[0].with_changes(turn_deg=-18.0)
    plain = alone.picture(setup, WIDTH_PX, TALL_PX).pixels.astype(int)
    told = alone.picture(setup, WIDTH_PX, TALL_PX, tell_made_up=True).pixels.astype(int)
    assert (told <= plain + 8).all()  # the blur mixes what lies beside it in
    assert (told < plain - 3).any()


def test_it_is_framed_as_the_shaded_picture(alone, head, taken):
    """The outlines of head and picture agree: the middle of what stands out is at one place."""
    setup = taken[0].with_changes(turn_deg=10.0, background_stops=1.0)
    made = alone.picture(setup, WIDTH_PX, TALL_PX).pixels.astype(int)
    drawn = Sculpture(head).render(setup, WIDTH_PX, TALL_PX).astype(int)
    spans = []
    for picture in (made, drawn):
        stands = np.abs(picture - picture[2, 2]).max(axis=2) > 40
        columns = np.flatnonzero(stands[TALL_PX // 3])
        spans.append((columns[0], columns[-1]))
    assert np.abs(np.subtract(*spans)).max() <= 3


def test_a_catchlight_stands_where_the_planned_key_puts_it(alone, head, taken):
    """It moves with the key, from one side of the irises to the other."""
    view = Sculpture(head).view(taken[0])
    left, top, scale = picture_window(view, WIDTH_PX, TALL_PX)
    x, y, _ = view.camera.project(view.point_mm("iris_own_left"))
    column, row = int((x - left) * scale), int((top - y) * scale)
    irises = []
    for azimuth_deg in (-45.0, 45.0):
        setup = taken[0].with_changes(key_azimuth_deg=azimuth_deg, key_elevation_deg=25.0)
        made = alone.picture(setup, WIDTH_PX, TALL_PX).pixels.astype(float)
        irises.append(made[row - 6 : row + 7, column - 6 : column + 7].mean(axis=2))
    apart = irises[1] - irises[0]
    brighter = np.unravel_index(np.argmax(apart), apart.shape)
    darker = np.unravel_index(np.argmin(apart), apart.shape)
    assert apart.max() > 40.0 > -40.0 > apart.min()
    assert brighter[1] - darker[1] >= 2
