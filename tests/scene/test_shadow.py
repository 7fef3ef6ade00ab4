import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from sitwell.base.rotations import direction_from_angles
from sitwell.head.regions import Region
from sitwell.head.surface import build_head
from sitwell.scene.anatomy import study
from sitwell.scene.shadow import (
    AZIMUTHS,
    ELEVATIONS,
    STEP_DEG,
    ShadowTable,
    around,
    fill_openness,
    surface_of,
)


@given(azimuth_deg=st.floats(-180, 180), elevation_deg=st.floats(-90, 90))
def test_cells_around_a_direction_blend_to_it(azimuth_deg, elevation_deg):
    directions = direction_from_angles(azimuth_deg, elevation_deg)[None, :]
    cells, weights = np.empty((1, 4), dtype=np.int32), np.empty((1, 4))
    around(directions, cells, weights)
    assert_allclose(weights.sum(), 1)
    assert (weights >= -1e-12).all()
    assert ((cells >= 0) & (cells < AZIMUTHS * ELEVATIONS)).all()
    rows, columns = cells[0] // AZIMUTHS, cells[0] % AZIMUTHS
    assert_allclose(weights[0] @ rows * STEP_DEG - 90, elevation_deg, atol=1e-6)
    turns = np.radians(columns * STEP_DEG)
    if abs(elevation_deg) < 89.9:
        blended = math.atan2(weights[0] @ np.sin(turns), weights[0] @ np.cos(turns))
        off = (math.degrees(blended) - azimuth_deg + 180) % 360 - 180
        assert abs(off) < 0.1  # a chord's middle against an arc's


@pytest.fixture(scope="module")
def anatomy():
    return study(build_head())


@pytest.fixture(scope="module")
def table(anatomy):
    return ShadowTable(anatomy, surface_of(anatomy))


def share(table, anatomy, region, azimuth_deg, elevation_deg):
    cells, weights = table.cells(direction_from_angles(azimuth_deg, elevation_deg)[None, :])
    chosen = anatomy.region == region
    return float((table.shares[cells[0]][:, chosen].mean(axis=1) * weights[0]).sum())


def test_a_light_from_one_side_reaches_that_cheek_and_not_the_other(table, anatomy):
    assert share(table, anatomy, Region.CHEEK_OWN_LEFT, 80, 0) > 0.95
    assert share(table, anatomy, Region.CHEEK_OWN_RIGHT, 80, 0) < 0.3


def test_a_high_light_leaves_the_nostrils_and_the_under_jaw_dark(table, anatomy):
    assert share(table, anatomy, Region.FOREHEAD, 0, 60) > 0.95
    assert share(table, anatomy, Region.UNDER_JAW, 0, 60) < 0.3
    assert share(table, anatomy, Region.NOSTRIL_OWN_LEFT, 0, 60) < 0.3


def test_openness_is_high_on_the_forehead_and_low_in_the_nostrils(anatomy):
    open_to_fill = fill_openness(anatomy)
    assert ((open_to_fill >= 0) & (open_to_fill <= 1 + 1e-6)).all()
    forehead = open_to_fill[anatomy.region == Region.FOREHEAD].mean()
    nostril = open_to_fill[anatomy.region == Region.NOSTRIL_OWN_LEFT].mean()
    assert forehead > 0.9
    assert nostril < 0.6


def test_surface_normals_are_unit_and_point_outward(anatomy):
    surface = surface_of(anatomy)
    whole = surface.areas_mm2 > 1e-6  # the mesh has a few triangles without area, which stay dark
    assert whole.mean() > 0.99
    assert_allclose(np.linalg.norm(surface.normals[whole], axis=1), 1, atol=1e-6)
    forehead = anatomy.region == Region.FOREHEAD
    assert (surface.normals[forehead, 2] > 0).mean() > 0.9


def test_lids_shade_the_eyes_from_above_more_than_from_ahead(table, anatomy):
    for eye in (Region.IRIS_OWN_LEFT, Region.IRIS_OWN_RIGHT):
        assert share(table, anatomy, eye, 0, 60) < 0.75 * share(table, anatomy, eye, 0, 0)


def test_what_the_lids_cover_of_an_eye_is_not_exposed(table, anatomy):
    white = np.isin(anatomy.region, [Region.WHITE_OWN_LEFT, Region.WHITE_OWN_RIGHT])
    iris = np.isin(anatomy.region, [Region.IRIS_OWN_LEFT, Region.IRIS_OWN_RIGHT])
    assert table.exposed[white].mean() < 0.3  # most of an eyeball lies in its socket
    assert table.exposed[iris].mean() > 0.6
    assert (table.exposed[~(white | iris)] == 1).all()
