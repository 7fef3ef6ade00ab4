"""Where a rim light stands: clear of the picture and of the lens, and whether a boom carries it.

A lamp behind the sitter looks toward the lens. What it sends straight into the glass veils the
picture (flare), also from outside the frame; a hood or a flag keeps it off where the lamp keeps
well outside the picture.
"""

import math

import numpy as np
from numpy.typing import NDArray

from sitwell.base.rotations import camera_axes
from sitwell.scene.camera import Camera, camera_for
from sitwell.scene.framing import FRAMINGS, aspect_ratio
from sitwell.scene.lens import image_distance_mm
from sitwell.scene.lighting import RING, rim_points_mm
from sitwell.scene.setup import Setup

Floats = NDArray[np.float64]

CLEAR_DEG = 5.0  # past the picture's corner: what a hood of usual depth shades (design choice)
OVERHEAD_MM = 400.0  # nearer to the sitter's middle than this, a lamp hangs over them


def rim_place_mm(setup: Setup) -> Floats:
    """Middle of the rim light (3,) in the studio, on or off."""
    return np.asarray(rim_points_mm(setup)[0])


def rim_edge_mm(setup: Setup) -> Floats:
    """The rim light's middle and four points of its edge (5, 3) in the studio."""
    points = rim_points_mm(setup)
    return np.asarray(points[0] + (points - points[0]) / RING)


def outside_picture_deg(setup: Setup, camera: Camera, points_mm: Floats) -> Floats:
    """How far points (N, 3) stand outside the cone round the picture, to its corners, in degrees.

    The cone is that of the whole sensor, seen from the lens; negative inside.
    """
    across, up, depth = ((points_mm - camera.lens_mm) @ camera.axes.T).T
    off_axis = np.arctan2(np.hypot(across, up), -depth)
    half_mm = 0.5 * math.hypot(setup.sensor_width_mm, setup.sensor_height_mm)
    corner = math.atan2(half_mm, image_distance_mm(setup.focal_mm, setup.distance_mm))
    return np.degrees(off_axis - corner)


def rim_margin_deg(setup: Setup) -> float:
    """How far the rim light's nearest edge keeps outside the picture, in degrees.

    The camera is aimed at the eyes and nothing stands in the way; ``rim_flare_deg`` knows the head.
    """
    camera = camera_for(setup, np.zeros(3))
    return float(outside_picture_deg(setup, camera, rim_edge_mm(setup)).min())


def needs_boom(setup: Setup) -> bool:
    """Whether a stand straight below the rim light would stand in the picture or in the sitter."""
    place = rim_place_mm(setup)
    lens = setup.lens_mm()
    across_mm, _, behind_mm = camera_axes(lens, [0.0, 0.0, 0.0]) @ (place - lens)
    height_mm = FRAMINGS[setup.framing].height_mm * -behind_mm / setup.distance_mm
    in_picture = abs(across_mm) < 0.5 * height_mm / aspect_ratio(setup.aspect)
    return bool(in_picture or math.hypot(place[0], place[2]) < OVERHEAD_MM)
