"""Laws of a rim light, wherever it is moved: dark where it can't reach, one stop is one stop."""

import numpy as np
import pytest
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_less

from sitwell.head.regions import Region
from sitwell.head.surface import build_head
from sitwell.scene.lighting import UNRIMMED, Lighting, rim_points_mm
from sitwell.scene.setup import Setup
from sitwell.scene.view import Observer

LEAK = 0.03  # of full light: what blending shadow maps ten degrees apart lets past an edge
rims = st.builds(
    Setup,
    rim=st.just("on"),
    rim_azimuth_deg=st.one_of(st.floats(100, 180), st.floats(-180, -100)),
    rim_elevation_deg=st.floats(0, 75),
    rim_distance_mm=st.floats(600, 4000),
    rim_size_mm=st.floats(50, 900),
    turn_deg=st.floats(-40, 40),
    chin_deg=st.floats(-10, 15),
)


@pytest.fixture(scope="module")
def studio():
    observer = Observer(build_head())
    return observer, Lighting(observer.anatomy)


def lit(studio, setup):
    observer, lighting = studio
    view = observer.view(setup)
    return view, lighting.light(view)


def surface(view):
    """Middles and normals (T, 3), head frame; eyes are lit as they look ahead."""
    corners = view.anatomy.vertices_mm[view.anatomy.triangles]
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    lengths = np.maximum(np.linalg.norm(across, axis=1), 1e-9)  # an eyeball's poles have none
    return corners.mean(axis=1), across / lengths[:, None]


def facing(view, setup):
    """Whether each triangle (T,) faces any of the lamp's points."""
    middles, normals = surface(view)
    points = view.head_from_studio(rim_points_mm(setup))
    return (((points[:, None] - middles) * normals).sum(axis=2) > 0.0).any(axis=0)


@settings(max_examples=40, deadline=None)
@given(setup=rims)
def test_a_region_that_faces_away_gets_nothing(studio, setup):
    view, light = lit(studio, setup)
    faces = facing(view, setup)
    for region in set(Region) - set(UNRIMMED):
        mine = view.anatomy.region == region
        if mine.any() and not faces[mine].any():
            assert light.rim[region] == 0.0, region.name


@settings(max_examples=15, deadline=None)
@given(setup=rims)
def test_a_region_below_the_heads_own_horizon_stays_dark(studio, setup):
    """Embree casts a ray to each of the lamp's points; where all are blocked hardly any arrives."""
    view, light = lit(studio, setup)
    middles, normals = surface(view)
    open_to = np.zeros(len(middles), dtype=bool)
    scene = EmbreeScene()
    TriangleMesh(scene, view.anatomy.vertices_mm.astype(np.float32), view.anatomy.triangles)
    starts = (middles + 2.0 * normals).astype(np.float32)
    for point in view.head_from_studio(rim_points_mm(setup)):
        ways = point - middles
        ways /= np.linalg.norm(ways, axis=1)[:, None]
        open_to |= scene.run(starts, ways.astype(np.float32)) < 0
    reached = open_to & facing(view, setup)
    strongest = 1.0 / (1.0 - 250.0 / setup.rim_distance_mm) ** 2  # a part nearer than the eyes
    for region in set(Region) - set(UNRIMMED):
        mine = view.anatomy.region == region
        if mine.any() and not reached[mine].any():
            assert_array_less(light.rim[region], LEAK * strongest, err_msg=region.name)


@settings(max_examples=25, deadline=None)
@given(setup=rims, stops=st.floats(-4, 3))
def test_one_stop_more_adds_one_stop_everywhere_it_is_the_only_light(studio, setup, stops):
    _, dim = lit(studio, setup.with_changes(rim_stops=stops))
    _, bright = lit(studio, setup.with_changes(rim_stops=stops + 1.0))
    assert_allclose(bright.rim, 2.0 * dim.rim, rtol=1e-9, atol=1e-15)
