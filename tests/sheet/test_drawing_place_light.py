"""The drawings under a light that stays: in its true direction, north where it is known."""

import re
from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sitwell.sheet.drawing import plan_drawing, side_drawing
from sitwell.sheet.drawing_place_light import brought_in
from sitwell.sheet.ink import KEY_FILL, SOFT

from .samples import GRID
from .test_drawing import assert_clear
from .test_place_light import SHADE, SUN, WINDOW, under

KINDS = [SUN, SHADE, WINDOW, replace(WINDOW, bearing_deg=90.0)]


def texts(drawing):
    return re.findall(r">([^<>]+)</text>", drawing.svg)


def filled_middle(drawing, colour):
    found = re.findall(rf'd="M([^"]+)Z" fill="{colour}"', drawing.svg)
    return np.mean([[float(n) for n in p.split()] for p in found[0].split(" L")], axis=0)


@pytest.mark.parametrize("daylight", KINDS)
@pytest.mark.parametrize("setup", GRID[:: len(GRID) // 6])
def test_labels_never_overlap(daylight, setup):
    light = daylight.light
    lit = setup.with_changes(key_size_mm=light.size_mm, key_distance_mm=light.distance_mm[0])
    assert_clear(plan_drawing(lit, 84, 86, daylight), 84, 86)
    assert_clear(side_drawing(lit, 84, 33, daylight), 84, 33)


@pytest.mark.parametrize(("daylight", "name"), [(SUN, "sun"), (SHADE, "open sky")])
def test_a_far_light_is_named_with_its_way_and_without_a_distance(daylight, name):
    above = texts(plan_drawing(under(daylight), 84, 86, daylight))
    assert name in above
    assert "40° camera right" in above
    assert not any("10.00 m" in text or "6.00 m" in text for text in above)
    beside = " ".join(texts(side_drawing(under(daylight), 84, 33, daylight)))
    assert f"{name} 24° up" in beside


def test_a_window_has_its_distance_and_its_wall():
    setup = under(WINDOW, key_distance_mm=1500)
    with_wall = plan_drawing(setup, 84, 86, WINDOW)
    assert {"window", "1.50 m (4 ft 11 in)"} <= set(texts(with_wall))
    assert len(re.findall('stroke-width="0.7"', with_wall.svg)) >= 2


@pytest.mark.parametrize("azimuth", [-75, -30, 0, 30, 75])
@pytest.mark.parametrize("daylight", [SUN, SHADE])
def test_a_far_light_is_brought_in_along_its_own_way(daylight, azimuth):
    setup = under(daylight, key_azimuth_deg=azimuth)
    for above in (True, False):
        drawn = brought_in(setup, daylight, above=above)
        assert drawn.key_azimuth_deg == setup.key_azimuth_deg
        assert drawn.key_elevation_deg == setup.key_elevation_deg
        assert drawn.key_distance_mm < setup.key_distance_mm
    assert brought_in(setup, WINDOW, above=True) is setup


@pytest.mark.parametrize("azimuth", [-60, 60])
def test_the_sun_stands_on_its_side_of_the_page(azimuth):
    drawing = plan_drawing(under(SUN, key_azimuth_deg=azimuth), 84, 86, SUN)
    x, _ = filled_middle(drawing, KEY_FILL)
    other, _ = filled_middle(
        plan_drawing(under(SUN, key_azimuth_deg=-azimuth), 84, 86, SUN), KEY_FILL
    )
    assert (x > other) == (azimuth > 0)


@pytest.mark.parametrize(
    ("bearing", "azimuth", "way"),
    [
        (180, 0, (0, -1)),  # sun in the south behind the camera: it looks north, up the page
        (270, 0, (-1, 0)),  # sun in the west, the lens looks east: north is at camera left
        (90, 90, (0, -1)),  # sun in the east at camera right: the lens looks north
        (180, 90, (-1, 0)),  # sun in the south at camera right: the lens looks east
    ],
)
def test_the_arrow_points_north(bearing, azimuth, way):
    daylight = replace(SUN, bearing_deg=bearing)
    drawing = plan_drawing(under(SUN, key_azimuth_deg=azimuth), 84, 86, daylight)
    head = re.search(rf'd="M([^"]+)Z" fill="{SOFT}"', drawing.svg).group(1)
    tip, one, other = ([float(n) for n in p.split()] for p in head.split(" L")[:3])
    along = np.subtract(tip, np.mean([one, other], axis=0))
    assert_allclose(along / np.linalg.norm(along), way, atol=0.02)
    assert "N" in texts(drawing)


def test_without_a_bearing_there_is_no_arrow():
    assert "N" not in texts(plan_drawing(under(SHADE), 84, 86, SHADE))


def test_no_fill_is_drawn_where_the_place_fills_by_itself():
    assert "fill" in texts(plan_drawing(under(SUN, fill_ratio=3), 84, 86, SUN))
    assert "fill" not in texts(plan_drawing(under(SUN, fill_ratio=8), 84, 86, SUN))
