"""Where a picture's edges cut the sitter badly: on the projected head, and at a body's joints.

Bad cuts are common practice, no source: between hairline and crown, at the brow or below, at the
chin, at a joint, and through the side of the head.
"""

import dataclasses
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sitwell.base.rotations import camera_axes, rotation_from_pose
from sitwell.base.words import mark, tr
from sitwell.head.regions import FACE
from sitwell.scene.crop_measures import head_heights
from sitwell.scene.framing import aspect_ratio, crop_clearance, picture_top_and_height
from sitwell.scene.setup import ASPECTS
from sitwell.scene.view import View

STATURE_MM = 1700.0
# Heights of joints below the eyes of someone who stands, as shares of the stature: Drillis and
# Contini 1966, from memory; eyes 0.936, suprasternal notch 0.818, elbow 0.630, wrist 0.485,
# knee 0.285, ankle 0.039.
JOINTS = {"neck root": 0.118, "elbow": 0.306, "wrist": 0.451, "knee": 0.651, "ankle": 0.897}
BOTTOM_AT = {
    "neck root": mark("bottom edge at the neck root"),
    "elbow": mark("bottom edge at the elbow"),
    "wrist": mark("bottom edge at the wrist"),
    "knee": mark("bottom edge at the knee"),
    "ankle": mark("bottom edge at the ankle"),
}
JOINT_BAND = 0.018  # of the stature: nearer than this a cut is at the joint (design choice)
CHIN_AIR = 0.12  # face heights under the chin that a cut leaves (design choice)
BODY_BEHIND_MM = 90.0  # the body's middle behind the eyes

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Edges:
    """A picture's edges about one head, in its face heights: up from the eyes, across from the
    middle of the head's own view, positive to camera right.
    """

    top: float
    bottom: float
    left: float
    right: float


def crop_faults(
    view: View, edges: Edges | None = None, *, stature_mm: float = STATURE_MM
) -> tuple[str, ...]:
    """What each bad edge cuts, such as "bottom edge at the knee"; empty for a good crop.

    ``edges`` are those of a picture of several; left out, those of the set-up's own.
    """
    heights, edges = head_heights(view), edges or _own_edges(view)
    faults = []
    if crop_clearance(heights, edges.top) < 0.0:
        above = edges.top >= heights.hairline
        at_crown = tr("top edge between hairline and crown")
        faults.append(at_crown if above else tr("top edge at the brow"))
    if heights.chin - CHIN_AIR < edges.bottom:
        faults.append(tr("bottom edge at the chin"))
    faults += [
        tr(BOTTOM_AT[joint])
        for joint, place, band in _joints(view, stature_mm)
        if abs(edges.bottom - place) < band
    ]
    left, right = _sides(view)
    if left < edges.left:
        faults.append(tr("camera left edge through the head"))
    if right > edges.right:
        faults.append(tr("camera right edge through the head"))
    return tuple(faults)


def formats_that_fit(view: View, *, stature_mm: float = STATURE_MM) -> tuple[str, ...]:
    """The formats in which the set-up's framing and crop cut nothing badly."""
    return tuple(
        aspect
        for aspect in ASPECTS
        if not crop_faults(_in_format(view, aspect), stature_mm=stature_mm)
    )


def _own_edges(view: View) -> Edges:
    top, height = picture_top_and_height(head_heights(view), view.setup, view.frame.unit_per_mm)
    half_width = 0.5 * height / aspect_ratio(view.setup.aspect)
    return Edges(top=top, bottom=top - height, left=-half_width, right=half_width)


def _in_format(view: View, aspect: str) -> View:
    return dataclasses.replace(view, setup=view.setup.with_changes(aspect=aspect))


def _joints(view: View, stature_mm: float) -> list[tuple[str, float, float]]:
    """Name, height in the picture and half band of each joint, in face heights above the eyes."""
    frame = view.frame
    found = []
    for name, share in JOINTS.items():
        _, y, depth = view.camera.project([[0.0, -share * stature_mm, -BODY_BEHIND_MM]])[0]
        place = (float(y) - frame.origin[1]) / frame.face_height
        found.append((name, place, JOINT_BAND * stature_mm / (float(depth) * frame.face_height)))
    return found


def _sides(view: View) -> tuple[float, float]:
    """How far the head reaches to camera left (negative) and right of the picture's middle.

    A picture cut into the forehead is a close one, whose sides may cut ears and back of the head:
    there the face counts alone.
    """
    up_x, up_y = view.frame.up
    vertices = view.anatomy.framed_vertices
    if view.setup.crop == "into-forehead":
        face = np.isin(view.anatomy.region, list(FACE))
        vertices = np.unique(view.anatomy.triangles[face])
    across: Floats = view.u[vertices] * up_y + view.v[vertices] * up_x
    across += view.frame.origin[0] / view.frame.face_height
    return float(across.min()), float(across.max())


def edges_for(
    view: View, lens_mm: Floats, window: tuple[float, float, float, float], bearing_deg: float
) -> Edges:
    """Where the edges of the picture of everybody lie about one head.

    ``window`` is left, top, width, height in tangents of a level camera at ``lens_mm`` (3,), and
    ``bearing_deg`` how far the head's level way to the lens is turned from its aim.
    """
    left, top, wide, high = window
    middle_x, middle_y = left + wide / 2.0, top - high / 2.0
    tangents = [(middle_x, top), (middle_x, top - high), (left, middle_y), (left + wide, middle_y)]
    ways = np.array([(x, y, -1.0) for x, y in tangents]) @ camera_axes(lens_mm, [0.0, 0.0, 0.0])
    mine = ways @ rotation_from_pose(bearing_deg, 0.0, 0.0) @ view.camera.axes.T
    across, up = mine[:, 0] / -mine[:, 2], mine[:, 1] / -mine[:, 2]
    unit, eyes = view.frame.face_height, float(view.frame.origin[1])
    return Edges(
        top=float(up[0] - eyes) / unit,
        bottom=float(up[1] - eyes) / unit,
        left=float(across[2]) / unit,
        right=float(across[3]) / unit,
    )
