import math

import pytest
from numpy.testing import assert_allclose, assert_array_equal

from sitwell.head.regions import Region
from sitwell.head.surface import build_head
from sitwell.scene.lighting import Lighting, rim_points_mm
from sitwell.scene.measures import INDEX, Evaluator, Measures
from sitwell.scene.rim_measures import DARKEST_STOPS, MEASURES, light_on_surface
from sitwell.scene.setup import Setup
from sitwell.scene.view import Observer

NAMES = [row.name for row in MEASURES]
STOP = 1.0


@pytest.fixture(scope="module")
def evaluator():
    return Evaluator(build_head())


@pytest.fixture(scope="module")
def lit():
    observer = Observer(build_head())
    lighting = Lighting(observer.anatomy)
    return lambda setup: lighting.light(observer.view(setup))


def measured(evaluator, **changes):
    return Measures(evaluator.evaluate(Setup(**({"rim": "on"} | changes))))


def test_a_rim_light_that_is_off_has_no_values_and_changes_nothing(evaluator):
    plain = evaluator.evaluate(Setup())
    moved = evaluator.evaluate(Setup(rim_azimuth_deg=-110, rim_stops=2, rim_distance_mm=700))
    assert_array_equal(plain, moved)
    assert all(math.isnan(plain[INDEX[name]]) for name in NAMES)


def test_it_changes_nothing_but_the_light(evaluator):
    plain, rimmed = evaluator.evaluate(Setup()), evaluator.evaluate(Setup(rim="on"))
    for name, index in INDEX.items():
        if not name.startswith(("light_", "ear_contrast", "nose_contrast", "rim_")):
            assert_array_equal(plain[index], rimmed[index], err_msg=name)


def test_one_stop_more_is_one_stop_more_where_it_is_the_only_light(evaluator):
    dim, bright = measured(evaluator), measured(evaluator, rim_stops=1)
    for name in NAMES[:-1]:
        if dim[name] > -9.0:
            assert_allclose(bright[name] - dim[name], 1.0, atol=1e-9, err_msg=name)


def test_it_lights_the_side_it_stands_on(evaluator):
    right, left = measured(evaluator), measured(evaluator, rim_azimuth_deg=-140)
    assert right["rim_ear_own_left_stops"] > right["rim_ear_own_right_stops"] + 3 * STOP
    assert right["rim_shoulder_own_left_stops"] > right["rim_shoulder_own_right_stops"] + 2 * STOP
    for own, other in (("own_left", "own_right"), ("own_right", "own_left")):
        for part in ("ear", "shoulder"):
            assert_allclose(
                right[f"rim_{part}_{own}_stops"], left[f"rim_{part}_{other}_stops"], atol=0.1
            )


def test_farther_round_to_the_side_more_of_what_it_lights_is_seen(evaluator):
    aside, behind = measured(evaluator, rim_azimuth_deg=115), measured(evaluator)
    assert aside["rim_ear_own_left_stops"] > behind["rim_ear_own_left_stops"] + STOP
    assert aside["rim_crown_stops"] > behind["rim_crown_stops"]


def test_the_face_stays_dark_behind_it(lit):
    rim = lit(Setup(rim="on", rim_azimuth_deg=160)).rim
    for region in (Region.NOSE_TIP, Region.CHIN, Region.FOREHEAD, Region.LIP_UPPER):
        assert rim[region] < 0.01


def test_all_the_light_is_key_fill_and_rim_together(lit):
    setup = Setup(rim="on", turn_deg=20)
    plain, rimmed = lit(setup.with_changes(rim="off")), lit(setup)
    assert plain.rim is None
    for region in (Region.EAR_OWN_LEFT, Region.CHEEK_OWN_LEFT, Region.TEMPLE_OWN_LEFT):
        assert_allclose(rimmed.luminance[region], plain.luminance[region] + rimmed.rim[region])


@pytest.mark.parametrize("distance_mm", [700.0, 1500.0, 3000.0])
@pytest.mark.parametrize("ahead_mm", [-200.0, 0.0, 150.0])
def test_its_light_falls_with_the_square_of_the_distance(distance_mm, ahead_mm):
    """Set at the eyes; a patch nearer to a small lamp gets more, by the square."""
    points = rim_points_mm(Setup(rim_distance_mm=distance_mm, rim_size_mm=1.0))
    way = points[0] / distance_mm
    light = light_on_surface(points, ahead_mm * way[None], way[None])
    assert_allclose(light, (distance_mm / (distance_mm - ahead_mm)) ** 2, rtol=1e-5)


def test_flare_is_told_by_what_the_lens_sees_of_the_lamp(evaluator):
    low = {"rim_elevation_deg": 2, "rim_distance_mm": 800, "rim_size_mm": 80}
    assert measured(evaluator, rim_azimuth_deg=180, **low)["rim_flare_deg"] == 90.0
    assert measured(evaluator, rim_azimuth_deg=167, **low)["rim_flare_deg"] < 0.0
    assert measured(evaluator, rim_azimuth_deg=110)["rim_flare_deg"] > 10.0


def test_a_half_hidden_lamp_still_meets_the_lens(evaluator):
    wide = measured(
        evaluator, rim_azimuth_deg=180, rim_elevation_deg=2, rim_distance_mm=800, rim_size_mm=600
    )
    assert wide["rim_flare_deg"] < 0.0


def test_the_head_shades_the_shoulder_behind_it(evaluator):
    beside, overhead = (
        measured(evaluator, rim_azimuth_deg=110, rim_elevation_deg=e) for e in (30, 85)
    )
    assert beside["rim_shoulder_own_right_stops"] == DARKEST_STOPS
    assert overhead["rim_shoulder_own_right_stops"] > -5.0
