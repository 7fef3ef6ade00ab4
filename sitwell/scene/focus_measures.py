"""Measures of blur: the lens is focused on the nearer eye's iris."""

from sitwell.head.surface import SIDES
from sitwell.scene.definitions import Measure
from sitwell.scene.lens import blur_disc_mm, circle_of_confusion_mm, image_distance_mm
from sitwell.scene.view import View

_PLACES = (
    ("near_eye", "the nearer eye"),
    ("far_eye", "the farther eye"),
    ("nose_tip", "the nose's tip"),
    ("ear_own_left", "the own left ear"),
    ("ear_own_right", "the own right ear"),
)
_UNITS = (
    ("mm", "mm", "on the sensor"),
    ("coc", "circles of confusion", "in circles of the sensor's diagonal over 1500"),
    ("share", "face heights", "as a share of the face"),
)
MEASURES = tuple(
    Measure(f"blur_{place}_{suffix}", unit, f"Diameter of the blur disc at {words}, {how}.")
    for suffix, unit, how in _UNITS
    for place, words in _PLACES
)


def focus_measures(view: View) -> tuple[float, ...]:
    """Values in the order of MEASURES."""
    setup = view.setup
    near_mm, far_mm = sorted(view.depth_mm(f"iris_{side}") for side in SIDES)
    depths_mm = [
        near_mm,
        far_mm,
        view.depth_mm("nose_tip"),
        *(view.depth_mm(f"ear_outer_{side}") for side in SIDES),
    ]
    blur_mm = [blur_disc_mm(setup.focal_mm, setup.f_number, near_mm, d) for d in depths_mm]
    circle_mm = circle_of_confusion_mm(setup.sensor_width_mm, setup.sensor_height_mm)
    face_mm = view.frame.face_height * image_distance_mm(setup.focal_mm, near_mm)
    return (*blur_mm, *(b / circle_mm for b in blur_mm), *(b / face_mm for b in blur_mm))
