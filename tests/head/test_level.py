"""The sitter's own zero, and a head that survives being kept."""

import json

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sitwell.base.errors import HeadError
from sitwell.base.rotations import rotation_from_pose
from sitwell.head.level import head_as_dict, head_from_dict, level_head
from sitwell.head.surface import build_head


def test_a_head_levelled_and_posed_back_is_the_head():
    head, neutral = build_head({"nose_lean": 0.3}), rotation_from_pose(3.0, -6.0, 2.0)
    levelled = level_head(head, neutral)
    assert_allclose(levelled.vertices_mm @ neutral, head.vertices_mm, atol=1e-3)
    assert levelled.point("nose_tip")[1] < head.point("nose_tip")[1]  # the chin went down


def test_a_kept_head_is_rebuilt_within_a_hundredth_of_a_millimetre():
    head, neutral = build_head({"ear_flap": 0.4}, hairline_mm=4.0), rotation_from_pose(1, 5, 0)
    kept = json.loads(json.dumps(head_as_dict(head, neutral)))
    rebuilt = head_from_dict(kept)
    assert_allclose(rebuilt.vertices_mm, level_head(head, neutral).vertices_mm, atol=0.01)
    assert rebuilt.hairline_mm == 4.0


@pytest.mark.parametrize(
    ("content", "message"),
    [
        ({}, "damaged near 'shape'; read the sitter's frames again"),
        (
            {"shape": {}, "hairline_mm": 0, "neutral": [1, 2]},
            "damaged near cannot reshape",
        ),
        (
            {"shape": {}, "hairline_mm": 0, "neutral": np.ones((3, 3)).tolist()},
            "zero is no rotation; read",
        ),
        ({"shape": {"tail": 1}, "hairline_mm": 0, "neutral": np.eye(3).tolist()}, "no shape slid"),
    ],
)
def test_a_damaged_head_is_refused(content, message):
    with pytest.raises(HeadError, match=message):
        head_from_dict(content)
