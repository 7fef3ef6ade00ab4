"""Hair of the invented sitters: where it grows, how far it reaches, and what it stays out of."""

import numpy as np
import pytest

from builders.sitters.hair import STYLES, Ground, grow_hair
from builders.sitters.short_hair import grow_brows, grow_lashes
from sitwell.head.surface import SIDES, build_head


@pytest.fixture(scope="module")
def head():
    return build_head()


@pytest.mark.parametrize("name", ["side-parted", "long", "curls"])
def test_hair_grows_from_the_scalp_and_stays_out_of_the_head(head, name):
    rng = np.random.default_rng(1)
    points = grow_hair(head, STYLES[name], 400, 0.05, rng).points_mm
    assert (points[:, 0, 1] > float(head.point("ear_lobe_own_left")[1]) - 30.0).all()
    tips = points[:, 1:].reshape(-1, 3)
    lifted = Ground(head).outside(tips, np.zeros(len(tips)))
    # where neck and shoulder meet, the nearest ground changes sides: a point in a thousand
    assert np.percentile(np.linalg.norm(lifted - tips, axis=1), 99.9) < 0.5
    reach = np.linalg.norm(np.diff(points, axis=1), axis=2).sum(axis=1)
    assert np.percentile(reach, 90) > 0.5 * STYLES[name].length_mm[1]


def test_lashes_stand_before_the_eyes_and_brows_above_them(head):
    lashes = grow_lashes(head, np.random.default_rng(1)).points_mm
    brows = grow_brows(head, 300, np.random.default_rng(1)).points_mm
    for side in SIDES:
        sign = np.sign(head.eye_centre_mm[side][0])
        own = lashes[np.sign(lashes[:, 0, 0]) == sign]
        away = np.linalg.norm(own - head.eye_centre_mm[side], axis=2)
        assert away[:, 0].min() > head.eye_radius_mm - 0.5  # roots lie on chords of the lid's edge
        assert away[:, 1:].min() > head.eye_radius_mm
        assert (away[:, -1] > away[:, 0]).all()
    assert brows[..., 1].min() > float(head.point("lid_upper_own_left")[1])
