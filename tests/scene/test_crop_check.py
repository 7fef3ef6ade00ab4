import pytest

from sitwell.head.surface import build_head
from sitwell.scene.crop_check import JOINTS, crop_faults, formats_that_fit
from sitwell.scene.framing import FRAMINGS, distance_for_framing
from sitwell.scene.setup import ASPECTS, Setup
from sitwell.scene.view import Observer

EYES_TO_FLOOR = 0.936


@pytest.fixture(scope="module")
def observer():
    return Observer(build_head())


def look(observer, **changes):
    setup = Setup(**changes)
    return observer.view(setup.with_changes(distance_mm=distance_for_framing(setup)))


def below_eyes_mm(framing):
    held = FRAMINGS[framing]
    return (1 - held.eye_line_share) * held.height_mm


@pytest.mark.parametrize("framing", ["head-and-shoulders", "half-length", "full-length"])
@pytest.mark.parametrize("aspect", ASPECTS)
@pytest.mark.parametrize("turn_deg", [0, 30])
def test_usual_framings_cut_nothing_badly(observer, framing, aspect, turn_deg):
    assert crop_faults(look(observer, framing=framing, aspect=aspect, turn_deg=turn_deg)) == ()


@pytest.mark.parametrize(
    ("framing", "joint"),
    [("head-and-shoulders", "neck root"), ("half-length", "elbow"), ("half-length", "wrist"),
     ("three-quarter-length", "knee"), ("full-length", "ankle")],
)  # fmt: skip
def test_a_sitter_whose_joint_lies_on_the_edge_is_told(observer, framing, joint):
    # the stature that puts the joint, 90 mm behind the eyes, on the bottom edge
    view = look(observer, framing=framing)
    farther = (view.setup.distance_mm + 90.0) / view.setup.distance_mm
    stature = below_eyes_mm(framing) * farther / JOINTS[joint]
    assert f"bottom edge at the {joint}" in crop_faults(view, stature_mm=stature)
    off = crop_faults(view, stature_mm=stature * 1.2)
    assert f"bottom edge at the {joint}" not in off


def test_a_lens_too_near_cuts_at_the_chin(observer):
    # a 200 mm lens at 0.8 m holds a few centimetres of face
    view = observer.view(Setup(focal_mm=200, distance_mm=800, framing="tight-head"))
    assert "bottom edge at the chin" in crop_faults(view)


def test_a_narrow_format_cuts_through_a_head_seen_from_the_side(observer):
    view = observer.view(Setup(focal_mm=200, distance_mm=1200, turn_deg=40, aspect="16:9"))
    assert any(fault.endswith("through the head") for fault in crop_faults(view))
    assert "16:9" not in formats_that_fit(view)


def test_formats_that_fit_have_no_fault(observer):
    view = look(observer, framing="head-and-shoulders", aspect="16:9")
    assert set(formats_that_fit(view)) == set(ASPECTS)


def test_a_cut_into_the_forehead_is_no_fault_at_the_top(observer):
    view = look(observer, framing="tight-head", crop="into-forehead", aspect="1:1")
    assert not any(fault.startswith("top edge") for fault in crop_faults(view))


def test_joints_lie_in_the_order_of_the_body():
    shares = list(JOINTS.values())
    assert shares == sorted(shares)
    assert shares[-1] < EYES_TO_FLOOR
