"""The lens as a thin lens: image distance, angle of view, depth of field, blur.

Distances run from the lens along its axis, in millimetres. Real portrait lenses have two principal
planes some centimetres apart, and many breathe when focused close; a thin lens ignores both.
Formulas: H. H. Nasse, Depth of Field and Bokeh (2010), and any optics text.
"""

import math

DIAGONALS_PER_CIRCLE = 1500.0


def image_distance_mm(focal_mm: float, focus_mm: float) -> float:
    """Lens to sensor when focused at ``focus_mm``: f s / (s - f); infinite up to one focal length.

    85 mm focused at 1.5 m needs 90.1 mm, so the picture is 6 % larger than at infinity.
    """
    if focus_mm <= focal_mm:
        return math.inf
    return focal_mm * focus_mm / (focus_mm - focal_mm)


def circle_of_confusion_mm(
    sensor_width_mm: float, sensor_height_mm: float, parts: float = DIAGONALS_PER_CIRCLE
) -> float:
    """The largest blur disc that still passes as a point: the sensor's diagonal over ``parts``.

    The customary 1500 gives 0.0288 mm on 36 x 24 mm. It is a custom, not a threshold of sight.
    """
    return math.hypot(sensor_width_mm, sensor_height_mm) / parts


def hyperfocal_mm(focal_mm: float, f_number: float, circle_mm: float) -> float:
    """Nearest focus that keeps infinity acceptably sharp: f^2 / (N c) + f."""
    return focal_mm**2 / (f_number * circle_mm) + focal_mm


def sharp_range_mm(
    focal_mm: float, f_number: float, focus_mm: float, circle_mm: float
) -> tuple[float, float]:
    """Nearest and farthest distance that pass as sharp; the far one is inf from hyperfocal on."""
    hyperfocal = hyperfocal_mm(focal_mm, f_number, circle_mm)
    near = focus_mm * (hyperfocal - focal_mm) / (hyperfocal + focus_mm - 2.0 * focal_mm)
    if focus_mm >= hyperfocal:
        return near, math.inf
    return near, focus_mm * (hyperfocal - focal_mm) / (hyperfocal - focus_mm)


def depth_of_field_mm(focal_mm: float, f_number: float, focus_mm: float, circle_mm: float) -> float:
    """Length of the range that passes as sharp."""
    near, far = sharp_range_mm(focal_mm, f_number, focus_mm, circle_mm)
    return far - near


def blur_disc_mm(focal_mm: float, f_number: float, focus_mm: float, distance_mm: float) -> float:
    """Diameter on the sensor of the blur of a point at ``distance_mm`` (inf allowed).

    f^2 / (N (s - f)) * |d - s| / d, the aperture's shadow on the sensor by similar triangles.
    """
    spread = 1.0 if math.isinf(distance_mm) else abs(distance_mm - focus_mm) / distance_mm
    return focal_mm**2 / (f_number * (focus_mm - focal_mm)) * spread


def magnification_ratio(near_mm: float, far_mm: float) -> float:
    """How many times larger a part at ``near_mm`` from the lens is drawn than one at ``far_mm``."""
    return far_mm / near_mm
