"""A head laid on the photograph that it was fitted to, and the light that the photograph put on it.

The fitted head takes the frame's own pose and expression, moved by what its landmarks still miss,
so that lids and lips meet their own pixels. Its light is counted against the mean on the middle of
the face: so light moves between parts of the face, and the face stays as bright as photographed.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from sitwell.head.basis import USED_LANDMARKS, landmarks_on
from sitwell.head.bias import load_bias
from sitwell.head.facing import vertex_normals
from sitwell.head.fit import FittedFrame
from sitwell.head.pose import project, upright_axes
from sitwell.head.reading import FrameReading
from sitwell.head.surface import Head, head_from_values
from sitwell.head.template import load_template
from sitwell.likeness.frame_light import light_on
from sitwell.scene.refine import Refinement, refine
from sitwell.scene.skin_tone import lightness_mean, middle_of_face

Floats = NDArray[np.float64]

WARP_REACH_MM, WARP_HOLD, WARP_MOST_MM = 9.0, 0.6, 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """A head laid on a photograph: N finer vertices, their place in it and their light.

    ``full_px`` (N, 2) in the full-size picture, ``light`` (N,) against the mean on the middle of
    the face.
    """

    frame: FrameReading
    head: Head
    fine: Refinement
    full_px: Floats
    light: Floats
    px_per_mm: float


def lay(frame: FrameReading, fitted: FittedFrame, openness: Floats) -> Laid | None:
    """Lay the head on its frame, in its pose and expression; None where no face was read."""
    if frame.path is None or frame.focal is None or frame.size_px is None or frame.face is None:
        return None
    focal_px = frame.focal.px_at(fitted.pose.distance_mm)
    centre_px = np.array(frame.size_px) / 2.0
    px_per_mm = focal_px / fitted.pose.distance_mm
    head = head_from_values(
        load_template(), fitted.shape.astype(np.float32), fitted.expression.astype(np.float32)
    )
    vertices = head.vertices_mm.astype(np.float64)
    base_normals = vertex_normals(vertices, head.triangles)
    fine = refine(vertices, head.triangles, base_normals)
    places, normals = fine.places(vertices, np.eye(3)), fine.spread(base_normals)
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    missed_px = _missed_px(head, frame, fitted, focal_px, centre_px)
    full_px = project(places, fitted.pose, focal_px, centre_px)
    full_px += _spread_over(head, places, missed_px, px_per_mm)
    light = light_on(places, normals, fine.spread(openness[:, None])[:, 0], head, fitted, frame)
    toward = -(places + fitted.pose.place_mm @ fitted.pose.rotation)
    facing = (normals * toward).sum(axis=1) / np.linalg.norm(toward, axis=1)
    middle = head.triangles[middle_of_face(vertices, head.triangles, head.region_of_triangle)]
    in_view = np.maximum(facing[middle].mean(axis=1), 1e-6)
    light /= lightness_mean(light[middle].mean(axis=1), in_view)
    return Laid(
        frame=frame,
        head=head,
        fine=fine,
        full_px=full_px,
        light=light,
        px_per_mm=px_per_mm,
    )


def _missed_px(
    head: Head, frame: FrameReading, fitted: FittedFrame, focal_px: float, centre_px: Floats
) -> Floats:
    """By how much the fit misses the landmarks (L, 2), their known mean offset apart."""
    if frame.face is None:
        raise ValueError("only frames with a face come here")
    turn_deg, chin_deg, tilt_deg = fitted.pose.seen_deg
    bias = load_bias()
    upright_mm = (bias.at(turn_deg, chin_deg) @ bias.directions).reshape(-1, 2)
    offset_mm = upright_mm @ upright_axes(tilt_deg)
    expected = project(landmarks_on(head), fitted.pose, focal_px, centre_px)
    expected += offset_mm * focal_px / -fitted.pose.place_mm[2]
    return frame.face.landmarks_px[USED_LANDMARKS] - expected


def _spread_over(head: Head, places: Floats, missed_px: Floats, px_per_mm: float) -> Floats:
    """The landmarks' misses carried to places (N, 2) around them, fading to 0 away from them."""
    size = np.linalg.norm(missed_px, axis=1, keepdims=True)
    most = WARP_MOST_MM * px_per_mm
    missed = missed_px * np.minimum(1.0, most / np.maximum(size, 1e-9))
    marks = cKDTree(landmarks_on(head))
    off, which = marks.query(places, k=12)
    pull = np.exp(-0.5 * (off / WARP_REACH_MM) ** 2)
    return (pull[..., None] * missed[which]).sum(axis=1) / (pull.sum(axis=1) + WARP_HOLD)[:, None]
