"""The bundled head: loads, hangs together, is alike on both sides."""

import time

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.spatial import cKDTree

from sitwell.base.errors import HeadError
from sitwell.head.regions import EYE, NOSE, Region
from sitwell.head.template import DATA, load_template

SIDES = ("own_left", "own_right")
MIRROR = np.array([-1.0, 1.0, 1.0])


@pytest.fixture(scope="module")
def template():
    return load_template()


@pytest.fixture(scope="module")
def image(template):
    """For each vertex the one that is its mirror image."""
    apart, nearest = cKDTree(template.vertices_mm).query(template.vertices_mm * MIRROR)
    assert apart.max() < 1e-4
    return nearest


def test_arrays_fit_together(template):
    count, triangles = len(template.vertices_mm), len(template.triangles)
    assert template.shape_mm.shape == (len(template.shape_names), count, 3)
    assert template.expression_mm.shape == (len(template.expression_names), count, 3)
    assert template.even_mm.shape == (len(template.even_index), count, 3)
    assert template.shape_sigma.shape == (len(template.shape_names),)
    assert template.triangles.min() == 0
    assert template.triangles.max() == count - 1
    for labels in (template.region_of_triangle, template.bare_region, template.hairline_height_mm):
        assert labels.shape == (triangles,)
    assert len(set(template.shape_names)) == len(template.shape_names)


def test_no_slider_stands_for_a_kind_of_person(template):
    forbidden = ("age", "sex", "gender", "male", "african", "asian", "caucasian", "nubian", "greek")
    words = {word for name in template.shape_names for word in name.split("_")}
    assert not words & set(forbidden)


def test_eyes_are_the_origin(template):
    left, right = (template.eye_centre_mm[side] for side in SIDES)
    assert_allclose((left + right) / 2, 0.0, atol=1e-5)
    for side in SIDES:
        ball = template.vertices_mm[template.eyeball_vertices[side]]
        distance = np.linalg.norm(ball - template.eye_centre_mm[side], axis=1)
        assert_allclose(distance, template.eye_radius_mm, rtol=1e-5)


def test_no_shape_moves_the_eye_midpoint(template):
    shift = sum(
        template.shape_mm[:, template.eyeball_vertices[side]].mean(axis=1) for side in SIDES
    )
    assert_allclose(shift, 0.0, atol=0.02)  # two steps of the file's fixed point


def test_iris_has_its_published_size(template):
    """Vakunov and Lagun 2020: 11.7 mm across, the same in nearly all grown-ups."""
    for side in SIDES:
        iris = template.region_of_triangle == Region[f"IRIS_{side.upper()}"]
        edge = template.vertices_mm[np.unique(template.triangles[iris])]
        across = np.linalg.norm((edge - template.eye_centre_mm[side])[:, :2], axis=1).max()
        assert_allclose(2 * across, 11.7, atol=0.02)


def test_mean_is_alike_on_both_sides(template, image):
    assert_allclose(template.vertices_mm[image], template.vertices_mm * MIRROR, atol=1e-4)


@pytest.mark.parametrize("name", ["ear_wing", "nose_width", "eye_opening", "cheek_volume"])
def test_even_sliders_are_alike_on_both_sides(template, image, name):
    moved = template.shape_mm[template.shape_names.index(name)]
    # the source's own pairs differ by up to half a millimetre at the ears
    assert_allclose(moved[image], moved * MIRROR, atol=0.6)


def test_points_lie_on_the_surface_and_mirror(template):
    for name, (triangle, weights) in template.points.items():
        assert_allclose(weights.sum(), 1.0, atol=1e-6, err_msg=name)
        assert weights.min() >= 0.0
        place = weights @ template.vertices_mm[template.triangles[triangle]]
        if "own_left" in name:
            other, shares = template.points[name.replace("own_left", "own_right")]
            twin = shares @ template.vertices_mm[template.triangles[other]]
            assert_allclose(twin, place * MIRROR, atol=1e-4, err_msg=name)
            assert place[0] > 10.0
        elif "own_right" not in name:
            assert_allclose(place[0], 0.0, atol=1e-4, err_msg=name)


def test_points_follow_the_face_downwards(template):
    def height(name):
        triangle, weights = template.points[name]
        return (weights @ template.vertices_mm[template.triangles[triangle]])[1]

    order = ["crown", "hairline", "brow_centre", "nose_root"]
    order += [f"nose_ridge_{k}" for k in range(1, 6)]
    order += ["nose_tip", "nose_base", "upper_lip_top", "chin"]
    heights = [height(name) for name in order]
    assert heights == sorted(heights, reverse=True)


def test_landmarks_lie_where_they_belong(template):
    """A few of the landmarker's numbers whose place on a face is documented by its authors."""
    labels = template.bare_region[template.landmark_triangle]
    assert template.landmark_triangle.min() >= 0
    assert labels[1] in NOSE
    assert labels[152] == Region.CHIN
    assert labels[13] == Region.LIP_UPPER
    assert labels[468] in EYE
    assert labels[473] in EYE
    assert Region.SOCKET not in labels
    assert_allclose(template.landmark_weights.sum(axis=1), 1.0, atol=1e-5)


def test_landmarks_are_alike_on_both_sides(template):
    corners = template.vertices_mm[template.triangles[template.landmark_triangle]]
    places = np.einsum("nk,nkc->nc", template.landmark_weights, corners)
    # own right, own left: eye corners, lids, mouth corners, nose wings, brows, irises
    pairs = [(33, 263), (133, 362), (159, 386), (145, 374), (61, 291), (48, 278), (105, 334)]
    pairs.append((468, 473))
    for right, left in pairs:
        assert places[right, 0] < 0 < places[left, 0]
        assert_allclose(places[right] * MIRROR, places[left], atol=1.5)


def test_loads_in_little_more_than_the_time_of_reading_the_file():
    """As a ratio of processor time, since machines differ; measured 2.1 (design goal: 50 ms)."""

    def read():
        with np.load(DATA, allow_pickle=False) as stored:
            return [stored[name] for name in stored.files]

    def load():
        load_template.cache_clear()
        load_template()

    assert least_cpu_s(load) < 4.0 * least_cpu_s(read)


def least_cpu_s(work):
    seconds = []
    for _ in range(5):
        start = time.process_time()
        work()
        seconds.append(time.process_time() - start)
    return min(seconds)


def test_damaged_data_says_what_to_do(tmp_path):
    path = tmp_path / "head.npz"
    path.write_bytes(b"PK not a zip")
    with pytest.raises(HeadError, match=r"head\.npz can't be read .* install sitwell again"):
        load_template(path)
