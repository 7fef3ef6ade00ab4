"""Edges of ears and things in the way are said where they are sure, only there.

Most crops here are painted from the mean head as if the net had been certain, so that each rule
can be tried by itself; two are rendered and looked at by the net.
"""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from builders.face_renders import Light, pose_at, render
from builders.face_views import focal_of
from builders.parts_canvas import Canvas, View, draw_mesh, plain_mesh
from sitwell.face.parts import CROP_PX, Part, PartsSeen, crop_on, see_parts
from sitwell.head.basis import landmarks_on
from sitwell.head.obscured import EAR_COVERED, is_unknown
from sitwell.head.pose import Sighting, project
from sitwell.head.regions import Region
from sitwell.head.seen_parts import find_parts
from sitwell.head.surface import build_head

SIZE, AWAY_MM = 600, 1500.0
FOCAL = focal_of(2200.0, SIZE)
CENTRE = np.full(2, SIZE / 2)


def sighting_of(head, pose):
    seen = project(landmarks_on(head), pose, FOCAL.px, CENTRE)
    return Sighting(
        landmarks_px=np.vstack([seen, np.zeros((10, 2))]), centre_px=CENTRE, focal=FOCAL
    )


def painted(head, pose, sure=0.98):
    """A crop in which every pixel is surely what the head shows there."""
    sighting = sighting_of(head, pose)
    crop = crop_on(sighting.landmarks_px)
    to_crop = np.linalg.inv(crop.axes_px)
    view = View(
        axes=(FOCAL.px * to_crop.T).astype(np.float32),
        origin=((CENTRE - crop.origin_px) @ to_crop).astype(np.float32),
    )
    mesh = plain_mesh(
        (head.vertices_mm @ pose.rotation.T + pose.place_mm).astype(np.float32),
        head.triangles, np.full(3, 0.5), Part.SKIN,
    )  # fmt: skip
    for region in Region:
        if region.name.startswith(("EAR", "SCALP")):
            part = Part.EAR if region.name.startswith("EAR") else Part.HAIR
            mesh.label[head.region_of_triangle == region] = part
    canvas = Canvas.empty(CROP_PX, CROP_PX)
    draw_mesh(canvas, view, mesh)
    return crop, canvas.label, sighting


def seen_as(crop, label, sure=0.98):
    rest = (1.0 - sure) / (len(Part) - 1)
    shares = np.where(label[None] == np.arange(len(Part))[:, None, None], sure, rest)
    return PartsSeen(crop=crop, shares=shares.astype(np.float32))


def found_on(head, pose, change=None, sure=0.98):
    crop, label, sighting = painted(head, pose)
    if change:
        change(label)
    return find_parts(seen_as(crop, label, sure), sighting), sighting


def off_mm(mark, head, pose):
    true = project(np.asarray(head.point(mark.name), float)[None], pose, FOCAL.px, CENTRE)[0]
    off = (np.array([mark.x_px, mark.y_px]) - true) * AWAY_MM / FOCAL.px
    return off[0] if mark.speaks == "across" else off[1]


@pytest.mark.parametrize("wing", [0.0, 0.4, 0.8])
def test_a_bare_ear_is_marked_on_both_sides_wherever_it_stands(wing):
    head, pose = build_head({"ear_wing": wing}), pose_at(0, 0, 0, AWAY_MM)
    found, _ = found_on(head, pose)
    names = {mark.name for mark in found.marks}
    assert {"ear_outer_own_left", "ear_outer_own_right"} <= names
    assert found.clear_ears == {"own_left", "own_right"}
    for mark in found.marks:
        if mark.name.startswith("ear"):
            assert mark.speaks == ("across" if "outer" in mark.name else "up")
            # a crop pixel is 1.6 mm, and the offsets measured on pictures are taken off
            assert abs(off_mm(mark, head, pose)) < 2.5


def test_an_ear_turned_away_behind_the_cheek_is_not_marked():
    found, _ = found_on(build_head(), pose_at(30, 0, 0, AWAY_MM))
    assert not [mark for mark in found.marks if mark.name.endswith("own_left")]
    assert "own_left" not in found.clear_ears | found.covered_ears


def test_an_unsure_ear_gives_no_mark():
    found, _ = found_on(build_head(), pose_at(0, 0, 0, AWAY_MM), sure=0.8)
    assert not [mark for mark in found.marks if mark.name.startswith("ear")]


def test_hair_against_the_top_of_an_ear_takes_its_top_mark_away():
    def fringed(label):
        rows = np.flatnonzero((label == Part.EAR).any(axis=1))
        label[rows[0] - 12 : rows[0] + 1] = Part.HAIR

    found, _ = found_on(build_head(), pose_at(0, 0, 0, AWAY_MM), fringed)
    names = {mark.name for mark in found.marks}
    assert not any(name.startswith("ear_top") for name in names)
    assert any(name.startswith("ear_lobe") for name in names)


def test_hair_over_an_ear_is_told_and_voids_that_ears_lengths_alone():
    def covered(label):
        label[:, : CROP_PX // 2][label[:, : CROP_PX // 2] == Part.EAR] = Part.HAIR
        label[40:130, :72] = Part.HAIR

    found, _ = found_on(build_head(), pose_at(-5, 0, 0, AWAY_MM), covered)
    assert found.covered_ears == set()  # turned toward that side, the ear may be behind the cheek
    found, _ = found_on(build_head(), pose_at(5, 0, 0, AWAY_MM), covered)
    assert found.covered_ears == {"own_right"}
    thing = frozenset({EAR_COVERED["own_right"]})
    assert is_unknown("ear_out_own_right_mm", thing)
    assert not is_unknown("ear_out_own_left_mm", thing)


@pytest.mark.parametrize(
    ("part", "name"),
    [(Part.GLASSES, "glasses"), (Part.HAT, "hat"), (Part.BEARD, "beard"), (Part.MASK, "mask"),
     (Part.HAND, "hand")],
)  # fmt: skip
def test_a_thing_is_named_when_enough_of_it_shows(part, name):
    def a_little(label):
        label[100:103, 90:95] = part

    def much(label):
        label[100:125, 80:105] = part

    pose = pose_at(0, 0, 0, AWAY_MM)
    assert name not in found_on(build_head(), pose, a_little)[0].things
    assert found_on(build_head(), pose, much)[0].things == {name}


def test_a_fringe_over_the_brows_is_told():
    def fringe(label):
        label[60:88, 70:122] = Part.HAIR

    found, _ = found_on(build_head(), pose_at(0, 0, 0, AWAY_MM), fringe)
    assert "hair-over-brows" in found.things


def test_a_rendered_ear_is_marked_to_three_millimetres_and_nothing_is_in_the_way():
    head, pose = build_head({"ear_wing": 0.5}), pose_at(-12, 3, 0, AWAY_MM)
    rgb = render(
        head, pose, focal_px=FOCAL.px, size_px=(SIZE, SIZE),
        lights=[Light(azimuth_deg=25, elevation_deg=30)], ambient=0.35,
    )  # fmt: skip
    sighting = sighting_of(head, pose)
    found = find_parts(see_parts(rgb, sighting.landmarks_px), sighting)
    outer = [mark for mark in found.marks if mark.name == "ear_outer_own_left"]
    assert len(outer) == 1
    assert_allclose([off_mm(mark, head, pose) for mark in outer], 0.0, atol=3.0)
    assert found.things == set()
    assert found.covered_ears == set()
