"""The light of a frame on the head: more toward the key, less of it where the reading is unsure."""

import dataclasses

import numpy as np
import pytest
from numpy.testing import assert_allclose

from builders.pictures.plain_frames import painted
from sitwell.head.facing import vertex_normals
from sitwell.head.surface import build_head
from sitwell.likeness.frame_light import USUAL_LIGHT, light_on

from .sitting import setups, take


@pytest.fixture(scope="module")
def seen(tmp_path_factory):
    head = build_head()
    frames = setups((0.0,), key_azimuth_deg=60.0)
    frame = take(tmp_path_factory.mktemp("light"), head, painted(head), frames).frames[0]
    places = head.vertices_mm.astype(np.float64)
    normals = vertex_normals(places, head.triangles)

    def light(**changes):
        reading = dataclasses.replace(frame.light, **changes) if changes else None
        other = dataclasses.replace(frame, light=reading)
        return light_on(places, normals, np.ones(len(places)), head, frame.fitted, other)

    return head, light


def test_the_side_toward_the_key_has_more_light(seen):
    head, light = seen
    values = light(spread_deg=5.0)
    at = {
        side: values[head.triangles[head.point_anchors[f"cheekbone_{side}"][0]]].mean()
        for side in ("own_left", "own_right")
    }
    assert at["own_left"] > 1.5 * at["own_right"]  # the key stands to camera right
    assert at["own_right"] > 0.2


def test_the_less_sure_the_reading_the_less_is_taken_off(seen):
    _, light = seen
    spreads = [light(spread_deg=spread).std() for spread in (5.0, 13.0, 30.0)]
    assert spreads[0] > 1.3 * spreads[1] > 1.3 * spreads[2]
    assert spreads[2] < 0.01
    assert light(spread_deg=5.0, key_elevation_deg=-40.0).std() < 0.01
    assert_allclose(light(), USUAL_LIGHT)
