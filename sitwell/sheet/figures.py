"""The things on a set, in studio millimetres: head, shoulders, camera and key.

Studio frame: +X camera right, +Y up, +Z from the sitter to the camera, origin at the neutral eye
midpoint. The sizes of head and body are round figures for a drawing, not anybody's.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull

from sitwell.base.rotations import direction_from_angles, rotation_from_pose
from sitwell.scene.framing import picture_size_mm
from sitwell.scene.lens import image_distance_mm
from sitwell.scene.rim import rim_place_mm
from sitwell.scene.setup import Setup
from sitwell.sheet.words import PIVOT_BEHIND_EYES_MM, body_turn_deg

Points = NDArray[np.float64]

NECK_PIVOT_MM = np.array([0.0, -40.0, -PIVOT_BEHIND_EYES_MM])
HEAD_CENTRE_MM = np.array([0.0, 0.0, -85.0])
HEAD_HALF_MM = (78.0, 98.0)
SHOULDER_HALF_MM = (225.0, 105.0)
SHOULDERS_BELOW_MM = 300.0
KEY_DEPTH_MM = 120.0
FILL_DISTANCE_MM = 1100.0
FILL_WIDTH_MM = 700.0
FILL_BESIDE_LENS_MM = 700.0
KEY_NEAR_LENS_DEG = 15.0
BACKGROUND_LIGHT_MM = 180.0
BEHIND_SITTER_MM, BEHIND_BELOW_MM = 500.0, 300.0  # a lamp behind the sitter's back stands so
BESIDE_MM = 900.0
# A profile of no one, front to back in the head's mid-plane: (y, z).
PROFILE_MM = np.array(
    [
        [118, -85], [112, -35], [88, 2], [50, 17], [22, 18], [6, 9], [-18, 22], [-42, 36],
        [-50, 30], [-54, 17], [-66, 16], [-72, 21], [-80, 16], [-86, 20], [-96, 13], [-112, 15],
        [-122, 4], [-124, -30], [-112, -62], [-150, -75], [-215, -78], [-215, -170], [-140, -165],
        [-60, -172], [10, -188], [70, -176], [106, -138],
    ],
    dtype=np.float64,
)  # fmt: skip


def pose_points(setup: Setup, head_mm: Points) -> Points:
    """Points (N, 3) of the head in the pose, in the studio frame."""
    rotation = rotation_from_pose(setup.turn_deg, setup.chin_deg, setup.tilt_deg)
    forward = np.array([0.0, 0.0, setup.chin_forward_mm])
    return (head_mm - NECK_PIVOT_MM) @ rotation.T + NECK_PIVOT_MM + forward


def head_from_above(setup: Setup) -> tuple[Points, Points]:
    """Outline of the skull (N, 3), and the nose's tip and two feet (3, 3), in the pose."""
    angles = np.linspace(0.0, 2 * np.pi, 48, endpoint=False)
    across, deep = HEAD_HALF_MM
    skull = np.stack([across * np.sin(angles), 0 * angles, deep * np.cos(angles)], axis=1)
    nose = np.array([[-22.0, -40.0, 4.0], [0.0, -40.0, 42.0], [22.0, -40.0, 4.0]])
    return pose_points(setup, skull + HEAD_CENTRE_MM), pose_points(setup, nose)


def shoulders_from_above(setup: Setup) -> Points:
    """Outline (N, 3) of the shoulders, turned as far as the body is asked to turn."""
    angles = np.linspace(0.0, 2 * np.pi, 64, endpoint=False)
    across, deep = SHOULDER_HALF_MM
    # A superellipse: shoulders are squarer than an ellipse.
    x = across * np.sign(np.sin(angles)) * np.abs(np.sin(angles)) ** 0.75
    z = deep * np.sign(np.cos(angles)) * np.abs(np.cos(angles)) ** 0.75
    outline = np.stack([x, np.full_like(x, -SHOULDERS_BELOW_MM), z], axis=1)
    return outline @ rotation_from_pose(body_turn_deg(setup), 0.0, 0.0).T + [0.0, 0.0, -105.0]


def head_from_side(setup: Setup) -> Points:
    """Profile (N, 3) with the chin's angle and slide; the turn is left to the view from above."""
    profile = np.stack([0 * PROFILE_MM[:, 0], PROFILE_MM[:, 0], PROFILE_MM[:, 1]], axis=1)
    return pose_points(setup.with_changes(turn_deg=0.0, tilt_deg=0.0), profile)


def shoulders_from_side() -> Points:
    """Outline (N, 3) of chest and back below the neck, open at the bottom."""
    outline = [[-235, -60], [-275, 5], [-420, 25], [-420, -235], [-290, -220], [-215, -165]]
    return np.array([[0.0, float(y), float(z)] for y, z in outline])


def key_box(setup: Setup) -> Points:
    """The eight corners (8, 3) of the key: a square box whose front faces the sitter's eyes."""
    return _box(*key_axis(setup), setup.key_size_mm)


def rim_box(setup: Setup) -> Points:
    """The eight corners (8, 3) of the rim light, on or off, drawn as the key is."""
    front = rim_place_mm(setup)
    return _box(front / setup.rim_distance_mm, front, setup.rim_size_mm)


def lamps_behind(setup: Setup, wall_mm: float) -> dict[str, Points]:
    """The boxes (8, 3) of the lamps that are on behind the sitter, "rim" and "background".

    ``wall_mm`` is how far behind the sitter the background is drawn.
    """
    rim = {"rim": rim_box(setup)} if setup.rim == "on" else {}
    if setup.background_light == "off":
        return rim
    return rim | {"background": background_light_box(setup, wall_mm)}


def background_light_box(setup: Setup, wall_mm: float) -> Points:
    """The eight corners (8, 3) of the background's own light, whose front faces the background.

    Low behind the sitter where there is room for it, else out beside them.
    """
    off_mm = setup.background_light_distance_mm
    side = 1.0 if setup.key_azimuth_deg > 0 else -1.0  # a rim light stands on the other
    x = 0.0 if fits_behind_sitter(setup) else side * BESIDE_MM
    front = np.array([x, -BEHIND_BELOW_MM, min(off_mm - wall_mm, 0.0)])
    return _box(np.array([0.0, 0.0, 1.0]), front, BACKGROUND_LIGHT_MM)


def fits_behind_sitter(setup: Setup) -> bool:
    """Whether the background's own light finds room between the sitter and the background."""
    return setup.background_distance_mm - setup.background_light_distance_mm >= BEHIND_SITTER_MM


def _box(away: Points, front: Points, size_mm: float) -> Points:
    """A square box with the middle of its front at ``front``, that reaches back ``away`` (3,)."""
    side = np.cross([0.0, 1.0, 0.0], away)
    side = np.array([1.0, 0.0, 0.0]) if np.linalg.norm(side) < 1e-9 else side / np.linalg.norm(side)
    up, half = np.cross(away, side), size_mm / 2
    corners = [
        front + a * half * side + b * half * up + depth * away
        for depth in (0.0, KEY_DEPTH_MM)
        for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))
    ]
    return np.array(corners)


def key_axis(setup: Setup) -> tuple[Points, Points]:
    """Unit direction (3,) from the eyes to the key, and the middle of its front (3,)."""
    away = direction_from_angles(setup.key_azimuth_deg, setup.key_elevation_deg)
    return away, away * setup.key_distance_mm


def fill_panel(setup: Setup) -> Points:
    """The two ends (2, 3) of the fill as drawn: opposite the key, or by the lens for a key there.

    A set-up gives the fill's amount, not its place; the drawing says so.
    """
    side = -1.0 if setup.key_azimuth_deg > 0 else 1.0
    if abs(setup.key_azimuth_deg) < KEY_NEAR_LENS_DEG:
        middle = np.array([side * FILL_BESIDE_LENS_MM, 0.0, 0.75 * setup.distance_mm])
    else:
        across = side * max(30.0, min(75.0, abs(setup.key_azimuth_deg)))
        middle = direction_from_angles(across, 0.0) * FILL_DISTANCE_MM
    along = np.cross([0.0, 1.0, 0.0], middle / np.linalg.norm(middle))
    return np.array([middle - along * FILL_WIDTH_MM / 2, middle + along * FILL_WIDTH_MM / 2])


def drawn_background_mm(setup: Setup) -> float:
    """How far behind the sitter the background is drawn; a far one is brought in.

    Its line is then broken, so that the near set keeps a scale that can be read.
    """
    return min(setup.background_distance_mm, max(2000.0, 1.5 * setup.distance_mm))


def view_angles_deg(setup: Setup) -> tuple[float, float]:
    """Angle of view across and up in degrees, for the upright picture and a thin lens in focus."""
    image_mm = image_distance_mm(setup.focal_mm, setup.distance_mm)
    across_mm, up_mm = picture_size_mm(setup)
    across_deg, up_deg = 2 * np.degrees(np.arctan(np.array([across_mm, up_mm]) / (2 * image_mm)))
    return float(across_deg), float(up_deg)


def hull(points: Points) -> Points:
    """The outline (M, 2) around points (N, 2), in order."""
    return np.asarray(points[ConvexHull(points, qhull_options="QJ").vertices])
