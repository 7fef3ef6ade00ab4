"""Edges of ears and things in the way are said where they are sure, only there.

Most looks here are made up from the mean head as if the net had been certain, so that each rule
can be tried by itself; one is rendered and looked at by the net.
"""

import dataclasses

import numpy as np
import pytest
from numpy.testing import assert_allclose

from builders.pictures.canvas import Canvas, View, draw_mesh, plain_mesh
from builders.pictures.landmarker_views import focal_of
from builders.pictures.ray_traced import Light, pose_at, render
from sitwell.face.crop import Crop
from sitwell.face.features import (
    CELL_PX,
    CROP_PX,
    JUDGED,
    MM_PER_PX,
    Features,
    crop_on,
    see_features,
)
from sitwell.face.parts import Part, PartsSeen
from sitwell.face.points import NAMES, PointsSeen
from sitwell.head.basis import landmarks_on
from sitwell.head.obscured import EAR_COVERED, is_unknown
from sitwell.head.pose import Sighting, project
from sitwell.head.regions import Region
from sitwell.head.seen_parts import find_parts
from sitwell.head.surface import SIDES, build_head

SIZE, AWAY_MM, CELLS = 600, 1500.0, CROP_PX // CELL_PX
FOCAL = focal_of(2200.0, SIZE)
CENTRE = np.full(2, SIZE / 2)
NOTHING = dict.fromkeys(JUDGED, 0.01)
BARE = NOTHING | {"ear-own-left": 0.99, "ear-own-right": 0.99}


def sighting_of(head, pose):
    seen = project(landmarks_on(head), pose, FOCAL.px, CENTRE)
    return Sighting(
        landmarks_px=np.vstack([seen, np.zeros((10, 2))]), centre_px=CENTRE, focal=FOCAL
    )


def looked_at(head, pose, change=None, judged=None, spread_mm=1.0):
    """A look in which every cell is surely what the head shows there, and every point known."""
    sighting = sighting_of(head, pose)
    crop = crop_on(sighting.landmarks_px)
    cells = Crop(origin_px=crop.origin_px, axes_px=crop.axes_px * CELL_PX)
    to_cells = np.linalg.inv(cells.axes_px)
    view = View(
        axes=(FOCAL.px * to_cells.T).astype(np.float32),
        origin=((CENTRE - cells.origin_px) @ to_cells).astype(np.float32),
    )
    mesh = plain_mesh(
        (head.vertices_mm @ pose.rotation.T + pose.place_mm).astype(np.float32),
        head.triangles, np.full(3, 0.5), Part.SKIN,
    )  # fmt: skip
    for region in Region:
        if region.name.startswith(("EAR", "SCALP")):
            part = Part.EAR if region.name.startswith("EAR") else Part.HAIR
            mesh.label[head.region_of_triangle == region] = part
    canvas = Canvas.empty(CELLS, CELLS)
    draw_mesh(canvas, view, mesh)
    if change:
        change(canvas.label)
    own = canvas.label[None] == np.arange(len(Part))[:, None, None]
    meant = {f"ear_rim_14_{side}": f"ear_front_{side}" for side in SIDES}
    meant |= {f"ear_rim_15_{side}": f"ear_front_top_{side}" for side in SIDES}
    names = [meant.get(name, name) for name in NAMES]
    points = [head.point(name if name in head.point_anchors else "chin") for name in names]
    spots = project(np.array(points, float), pose, FOCAL.px, CENTRE)
    seen = Features(
        parts=PartsSeen(
            crop=cells,
            shares=np.where(own, 0.98, 0.02 / (len(Part) - 1)).astype(np.float32),
            mm_per_cell=MM_PER_PX * CELL_PX,
            colours=np.repeat(20.0 * canvas.label[..., None], 3, axis=2).astype(np.float32),
        ),
        points=PointsSeen(
            crop=crop,
            places=crop.from_picture(spots),
            covariance=np.tile(np.eye(2) * (spread_mm / MM_PER_PX) ** 2, (len(NAMES), 1, 1)),
        ),
        judged=BARE | (judged or {}),
    )
    return seen, sighting


def found_on(head, pose, change=None, judged=None, spread_mm=1.0):
    return find_parts(*looked_at(head, pose, change, judged, spread_mm))


def front():
    return pose_at(0, 0, 0, AWAY_MM)


def off_mm(mark, head, pose):
    true = project(np.asarray(head.point(mark.name), float)[None], pose, FOCAL.px, CENTRE)[0]
    off = (np.array([mark.x_px, mark.y_px]) - true) * AWAY_MM / FOCAL.px
    return off[0] if mark.speaks == "across" else off[1]


@pytest.mark.parametrize("wing", [0.0, 0.4, 0.8])
def test_a_bare_ear_is_marked_on_both_sides_wherever_it_stands(wing):
    head = build_head({"ear_wing": wing})
    found = found_on(head, front())
    assert {mark.name for mark in found.marks} == {
        f"ear_{stem}_{side}"
        for stem in ("top", "outer", "lobe", "front", "front_top")
        for side in SIDES
    }
    assert found.clear_ears == {"own_left", "own_right"}
    for mark in found.marks:
        assert abs(off_mm(mark, head, front())) < 0.01
    spread_mm = {(m.name[4:-9], m.speaks): m.spread_px * AWAY_MM / FOCAL.px
                 for m in found.marks if m.name.endswith("left")}  # fmt: skip
    assert set(spread_mm) == {
        ("top", "up"), ("outer", "across"), ("lobe", "up"), ("lobe", "across"),
        ("front", "across"), ("front_top", "across"),
    }  # fmt: skip
    # an edge on skin is off by a millimetre besides
    assert_allclose(spread_mm["outer", "across"], np.sqrt(2.0), rtol=0.15)
    assert spread_mm["lobe", "across"] > spread_mm["front", "across"] > spread_mm["outer", "across"]


def test_an_ear_turned_away_behind_the_cheek_is_not_marked():
    found = found_on(build_head(), pose_at(30, 0, 0, AWAY_MM))
    assert not [mark for mark in found.marks if mark.name.endswith("own_left")]
    assert "own_left" not in found.clear_ears | found.covered_ears


def test_the_outer_edge_of_a_profiles_near_ear_is_not_marked():
    found = found_on(build_head(), pose_at(75, 0, 0, AWAY_MM))
    own = {mark.name for mark in found.marks}
    assert own <= {f"ear_{stem}_own_right" for stem in ("top", "lobe", "front", "front_top")}


@pytest.mark.parametrize(
    ("judged", "spread_mm"), [({"ear-own-left": 0.5, "ear-own-right": 0.5}, 1.0), ({}, 5.0)]
)
def test_an_unsure_ear_gives_no_mark(judged, spread_mm):
    found = found_on(build_head(), front(), judged=judged, spread_mm=spread_mm)
    assert found.marks == ()
    assert found.covered_ears == set()


def test_hair_over_an_ear_is_told_and_voids_that_ears_lengths_alone():
    def covered(label):
        label[label == Part.EAR] = Part.HAIR

    hidden = {"ear-own-right": 0.02}
    turned_away = pose_at(-10, 0, 0, AWAY_MM)  # the ear may be behind the cheek
    assert found_on(build_head(), turned_away, covered, hidden).covered_ears == set()
    found = found_on(build_head(), pose_at(5, 0, 0, AWAY_MM), covered, hidden)
    assert found.covered_ears == {"own_right"}
    (seen,) = found.seen
    assert (seen.thing, seen.side) == ("hair-over-ears", "own_right")
    assert_allclose(seen.sure, 0.98)
    assert found.things == set()  # until no other frame shows it
    thing = frozenset({EAR_COVERED["own_right"]})
    assert is_unknown("ear_out_own_right_mm", thing)
    assert not is_unknown("ear_out_own_left_mm", thing)


@pytest.mark.parametrize(
    ("part", "name", "rows"),
    [
        (Part.GLASSES, "glasses", slice(60, 72)),
        (Part.HAT, "hat", slice(20, 40)),
        (Part.BEARD, "beard", slice(95, 107)),
        (Part.MASK, "mask", slice(85, 99)),
        (Part.HAND, "hand", slice(90, 104)),
    ],
)
def test_a_thing_is_named_where_the_picture_is_sure_and_enough_of_it_shows(part, name, rows):
    def a_little(label):
        label[rows.start : rows.start + 2, 60:64] = part

    def much(label):
        label[rows, 55:73] = part

    head = build_head()
    assert found_on(head, front(), much, {name: 0.3}).things == set()
    assert found_on(head, front(), a_little, {name: 0.97}).things == set()
    found = found_on(head, front(), much, {name: 0.97})
    assert found.things == {name}
    assert [(each.thing, each.side, each.sure) for each in found.seen] == [(name, None, 0.97)]


@pytest.mark.parametrize(("step", "is_hat"), [(0.0, False), (5.0, False), (12.0, True)])
def test_a_hat_of_the_hairs_own_colour_is_asked_about_and_counts_as_hair(step, is_hat):
    def cap(label):
        label[20:36, 40:88] = Part.HAIR
        label[20:31, 40:88] = Part.HAT

    seen, sighting = looked_at(build_head(), front(), cap, {"hat": 0.97})
    label = seen.parts.shares.argmax(axis=0)
    colours = np.full((*label.shape, 3), 40.0, np.float32)
    colours[label == Part.HAT] += step
    parts = dataclasses.replace(seen.parts, colours=colours)
    found = find_parts(dataclasses.replace(seen, parts=parts), sighting)
    assert (found.things == {"hat"}, found.asked == {"hat"}) == (is_hat, not is_hat)
    assert bool(found.seen) == is_hat


def test_a_hat_on_bare_skin_is_no_question():
    def cap(label):
        label[label == Part.HAIR] = Part.SKIN
        label[20:36, 40:88] = Part.HAT

    found = found_on(build_head(), front(), cap, {"hat": 0.97})
    assert (found.things, found.asked) == ({"hat"}, set())


def test_cloth_at_the_neck_is_no_hat():
    def scarf(label):
        label[108:126, 40:90] = Part.HAT

    assert found_on(build_head(), front(), scarf, {"hat": 0.9}).things == set()


def test_a_hand_at_one_side_is_told_on_the_sitters_own():
    def at_camera_left(label):
        label[80:105, 30:50] = Part.HAND

    found = found_on(build_head(), front(), at_camera_left, {"hand": 0.97})
    assert [each.side for each in found.seen] == ["own_right"]


def test_a_fringe_over_the_brows_is_told():
    def fringe(label):
        label[46:60, 50:78] = Part.HAIR

    head = build_head()
    assert found_on(head, front(), fringe, {"hair-over-brows": 0.9}).things == {"hair-over-brows"}
    assert found_on(head, front(), fringe).things == set()


def test_a_rendered_ear_is_marked_to_three_millimetres_and_nothing_is_in_the_way():
    head, pose = build_head({"ear_wing": 0.5}), pose_at(-12, 3, 0, AWAY_MM)
    rgb = render(
        head, pose, focal_px=FOCAL.px, size_px=(SIZE, SIZE),
        lights=[Light(azimuth_deg=25, elevation_deg=30)], ambient=0.35,
    )  # fmt: skip
    sighting = sighting_of(head, pose)
    found = find_parts(see_features(rgb, sighting.landmarks_px), sighting)
    outer = [mark for mark in found.marks if mark.name == "ear_outer_own_left"]
    assert len(outer) == 1
    assert_allclose([off_mm(mark, head, pose) for mark in outer], 0.0, atol=3.0)
    assert found.things == set()
    assert found.covered_ears == set()
