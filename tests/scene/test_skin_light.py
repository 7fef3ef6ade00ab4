"""Light taken off the skin: a slope goes, its own colour stays; an unsure reading takes less."""

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from sitwell.head.facing import vertex_normals
from sitwell.head.surface import build_head
from sitwell.scene.skin_light import USUAL_LIGHT, evened, light_on

from .sitting import painted, setups, take


def normals_ahead(count=600, seed=2):
    rng = np.random.default_rng(seed)
    way = rng.normal(size=(count, 3)) * (0.6, 0.6, 0.1) + (0.0, 0.0, 1.0)
    return way / np.linalg.norm(way, axis=1, keepdims=True)


@settings(deadline=None)
@given(st.floats(-0.8, 0.8), st.floats(-0.8, 0.8))
def test_an_even_slope_of_light_goes(aside, up):
    normals = normals_ahead()
    seen = 0.3 * np.exp(normals @ (aside, up, 0.0))
    left = seen * evened(seen, normals, np.ones(len(seen)), normals)
    assert left.std() < 0.25 * max(seen.std(), 0.01)


def test_a_beard_does_not_pass_for_a_slope():
    normals = normals_ahead()
    seen = np.full(len(normals), 0.3)
    seen[normals[:, 1] < -0.55] = 0.03
    factor = evened(seen, normals, np.ones(len(seen)), normals)
    assert_allclose(factor, 1.0, atol=0.2)  # the beard itself is a tenth as bright


def test_without_plain_skin_nothing_is_evened():
    assert_allclose(evened(np.empty(0), np.empty((0, 3)), np.empty(0), np.ones((4, 3))), 1.0)


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
