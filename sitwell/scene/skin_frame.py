"""What one photograph says about the skin at each texel of a head: its colour, and how surely.

The fitted head is held against the photograph in the frame's own pose and expression, moved by what
its landmarks still miss, so that lids and lips meet their own pixels. A texel counts where nothing
stands before it, away from outlines, and the more squarely it faces the lens. Its colour is the
photograph's light over the light that the read key and fill would put there, against their mean on
the middle of the face: so light moves between parts of the face, and the face stays as bright as it
was photographed.
"""

from dataclasses import dataclass, fields
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy.ndimage import binary_dilation, distance_transform_edt, map_coordinates
from scipy.spatial import cKDTree

from sitwell.brief.photos import open_photo
from sitwell.head.basis import USED_LANDMARKS, landmarks_on
from sitwell.head.bias import load_bias
from sitwell.head.facing import vertex_normals
from sitwell.head.fit import FittedFrame
from sitwell.head.pose import project, upright_axes
from sitwell.head.reading import FrameReading
from sitwell.head.regions import EYE
from sitwell.head.shading import linear_from_srgb
from sitwell.head.surface import Head, head_from_values
from sitwell.head.template import load_template
from sitwell.scene.raster import rasterise
from sitwell.scene.refine import Refinement, refine
from sitwell.scene.skin import lightness_mean, middle_of_face
from sitwell.scene.skin_cover import Cover, Singles
from sitwell.scene.skin_light import LEAST_LIGHT, light_on

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Real = TypeVar("Real", bound=np.floating)

PHOTO_PX_PER_MM = 2.0
MAP_PX_PER_MM = 1.5
MARGIN_MM, MAP_MARGIN_PX = 12.0, 4
NOWHERE_MM = 1e6
HIDDEN_MM = 3.0  # behind the nearest surface by more than this is hidden
OUTLINE_STEP_MM = 5.0  # a bend in depth by more than this over a pixel is an outline
OUTLINE_NEAR_MM, OUTLINE_FAR_MM = 0.8, 4.0
FACING_NONE, FACING_FULL = 0.10, 0.75  # cosines between the surface and the line of sight
WARP_REACH_MM, WARP_HOLD, WARP_MOST_MM = 9.0, 0.6, 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A photograph's part around the head: linear light (h, w, 3), and its place at full size."""

    linear: Floats
    origin_px: Floats
    px_per_px: float

    def at(self, full_px: Floats) -> Floats:
        """Places in this part, counted from its corner, of places (n, 2) at full size."""
        return (full_px - self.origin_px) / self.px_per_px

    def sample(self, places: Floats) -> Floats:
        """Light (n, 3) at places (n, 2) in this part, linear between pixels."""
        rows_columns = (places - 0.5).T[::-1]
        return np.stack(
            [
                map_coordinates(self.linear[..., c], rows_columns, order=1, mode="nearest")
                for c in range(3)
            ],
            axis=1,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class DepthMap:
    """The head drawn as a frame sees it, in a small map: where each of its vertices lies (N, 2).

    ``shown`` (h, w) the finer triangle in each pixel, -1 for none; ``depth_mm`` (h, w), NOWHERE_MM
    off the head; ``room_mm`` (h, w) how far each pixel lies from the next outline.
    """

    places: Floats
    corner_px: Floats
    px_per_px: float
    shown: Ints
    depth_mm: Floats
    room_mm: Floats

    def full_px(self, places: Floats) -> Floats:
        """Full-size places of places (n, 2) in the map."""
        return self.corner_px + places * self.px_per_px


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """A head laid on a photograph: N finer vertices, their place in it and their light.

    ``full_px`` (N, 2) in the full-size picture, ``depth_mm`` (N,) along the lens's axis,
    ``facing`` (N,) the cosine toward the lens, ``normals`` (N, 3) before the camera, ``light``
    (N,) against the mean on the middle of the face.
    """

    frame: FrameReading
    head: Head
    fine: Refinement
    full_px: Floats
    depth_mm: Floats
    facing: Floats
    normals: Floats
    light: Floats
    px_per_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Held(Laid):
    """A laid head with the photograph around it, and what of the head shows there."""

    picture: Picture
    map: DepthMap


@dataclass(frozen=True, slots=True, kw_only=True)
class Sight:
    """One frame on N texels: linear colour (N, 3) without its light, black where it saw none.

    ``weight`` (N,) is how well each is seen, ``lit`` (N,) how well it is lit, 0 to 1.
    """

    held: Held
    colour: Singles
    weight: Singles
    lit: Singles


def hold(frame: FrameReading, fitted: FittedFrame, openness: Floats) -> Held | None:
    """Hold the head against its frame; None where there is no photograph to read again."""
    laid = lay(frame, fitted, openness)
    if laid is None:
        return None
    return Held(
        **{each.name: getattr(laid, each.name) for each in fields(laid)},
        picture=_picture(frame, laid.full_px, laid.px_per_mm),
        map=_depth_map(
            laid.full_px,
            laid.depth_mm,
            laid.fine.triangles,
            np.repeat(np.isin(laid.head.region_of_triangle, list(EYE)), 4),
            laid.px_per_mm,
        ),
    )


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
    seen = places @ fitted.pose.rotation.T + fitted.pose.place_mm
    turned = normals @ fitted.pose.rotation.T
    missed_px = _missed_px(head, frame, fitted, focal_px, centre_px)
    full_px = project(places, fitted.pose, focal_px, centre_px)
    full_px += _spread_over(head, places, missed_px, px_per_mm)
    facing = -(turned * seen).sum(axis=1) / np.linalg.norm(seen, axis=1)
    light = light_on(places, normals, fine.spread(openness[:, None])[:, 0], head, fitted, frame)
    middle = head.triangles[middle_of_face(vertices, head.triangles, head.region_of_triangle)]
    in_view = np.maximum(facing[middle].mean(axis=1), 1e-6)
    light /= lightness_mean(light[middle].mean(axis=1), in_view)
    return Laid(
        frame=frame,
        head=head,
        fine=fine,
        full_px=full_px,
        depth_mm=-seen[:, 2],
        normals=turned,
        facing=facing,
        light=light,
        px_per_mm=px_per_mm,
    )


def see(held: Held, cover: Cover) -> Sight:
    """Colour and weight of each of a head's texels."""
    at_vertices = np.column_stack(
        [
            held.picture.at(held.full_px),
            held.map.places,
            held.depth_mm,
            held.facing,
            held.light,
        ]
    )
    count = len(cover.region)
    sight = Sight(
        held=held,
        colour=np.zeros((count, 3), dtype=np.float32),
        weight=np.empty(count, dtype=np.float32),
        lit=np.empty(count, dtype=np.float32),
    )
    for piece in cover.pieces():
        at = cover.spread(at_vertices, piece)
        sight.weight[piece] = weight = _weight(held, at)
        sight.lit[piece] = ramp(0.0, 3.0 * LEAST_LIGHT, at[:, 6])
        at = at[weight > 0.0]
        colour = held.picture.sample(at[:, :2]) / np.maximum(at[:, 6:], LEAST_LIGHT)
        sight.colour[piece][weight > 0.0] = colour
    return sight


def as_photographed(sight: Sight, cover: Cover) -> Floats:
    """The middle of the face (3,) as the photograph has it, light and all."""
    mine = middle_seen(cover, sight.weight)
    light = cover.spread(sight.held.light[:, None], mine)
    return lightness_mean(sight.colour[mine] * np.maximum(light, LEAST_LIGHT), sight.weight[mine])


def middle_seen(cover: Cover, weight: Singles) -> NDArray[np.int64]:
    """The texels (n,) that tell the tone: the middle of the face's, or any where it is not seen."""
    seen = weight > 0.0
    middle = seen & cover.middle
    return np.flatnonzero(middle if middle.any() else seen)


def _weight(held: Held, at: Floats) -> Floats:
    """How well each texel (n,) is seen, from its row of ``at``."""
    nearest_mm, room_mm = held.map.depth_mm, held.map.room_mm
    height, width = held.picture.linear.shape[:2]
    inside = ((at[:, :2] > 1.0) & (at[:, :2] < (width - 1.0, height - 1.0))).all(axis=1)
    column, row = np.floor(at[:, 2:4]).astype(np.int64).T
    row = np.clip(row, 0, nearest_mm.shape[0] - 1)
    column = np.clip(column, 0, nearest_mm.shape[1] - 1)
    shown = inside & (at[:, 4] < nearest_mm[row, column] + HIDDEN_MM)
    clear = ramp(OUTLINE_NEAR_MM, OUTLINE_FAR_MM, room_mm[row, column])
    return shown * clear * ramp(FACING_NONE, FACING_FULL, at[:, 5])


def ramp(low: float, high: float, value: NDArray[Real]) -> NDArray[Real]:
    """0 below ``low``, 1 above ``high``, straight between, as precise as ``value``."""
    return np.clip((value - low) / (high - low), 0.0, 1.0)


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


def _picture(frame: FrameReading, full_px: Floats, px_per_mm: float) -> Picture:
    """The photograph around the head, read again at about the texels' scale."""
    if frame.path is None or frame.size_px is None:
        raise ValueError("only frames with a photograph come here")
    wanted = round(max(frame.size_px) * min(1.0, PHOTO_PX_PER_MM / px_per_mm))
    photo = open_photo(frame.path, largest_side_px=max(wanted, 64))
    scale = photo.px_per_rgb_px
    margin = MARGIN_MM * px_per_mm
    low = np.clip((full_px.min(axis=0) - margin) / scale, 0, None).astype(int)
    high = np.ceil((full_px.max(axis=0) + margin) / scale).astype(int)
    piece = photo.rgb[low[1] : high[1], low[0] : high[0]]
    factor = max(1, int(px_per_mm / scale / PHOTO_PX_PER_MM))
    small = np.asarray(Image.fromarray(np.ascontiguousarray(piece)).reduce(factor))
    return Picture(linear=linear_from_srgb(small), origin_px=low * scale, px_per_px=scale * factor)


def _depth_map(
    full_px: Floats,
    depth_mm: Floats,
    triangles: Ints,
    of_eye: NDArray[np.bool_],
    px_per_mm: float,
) -> DepthMap:
    """The head drawn; ``of_eye`` (4T,) marks eyeballs, whose edge at the lids is an outline too."""
    scale = px_per_mm / MAP_PX_PER_MM
    corner = full_px.min(axis=0) - MAP_MARGIN_PX * scale
    places = (full_px - corner) / scale
    width, height = (np.ceil(places.max(axis=0)) + MAP_MARGIN_PX).astype(int)
    shown, nearest = np.empty((height, width), dtype=np.int32), np.empty((height, width))
    every, covered = np.arange(len(triangles), dtype=np.int32), np.empty(len(triangles), np.int32)
    x, y = np.ascontiguousarray(places.T)
    rasterise(x, y, 1.0 / depth_mm, triangles, every, shown, nearest, covered)
    depth = np.where(shown >= 0, 1.0 / np.maximum(nearest, 1e-9), NOWHERE_MM)
    eyes = (shown >= 0) & of_eye[shown]
    edge = binary_dilation(eyes) & ~eyes
    return DepthMap(
        places=places,
        corner_px=corner,
        px_per_px=scale,
        shown=shown,
        depth_mm=depth,
        room_mm=distance_transform_edt(~(_breaks(depth) | edge)) / MAP_PX_PER_MM,
    )


def _breaks(depth_mm: Floats) -> NDArray[np.bool_]:
    """Where a picture of depths breaks off, however steep it is elsewhere."""
    broken = np.zeros(depth_mm.shape, dtype=bool)
    down = np.abs(np.diff(depth_mm, 2, axis=0)) > OUTLINE_STEP_MM
    along = np.abs(np.diff(depth_mm, 2, axis=1)) > OUTLINE_STEP_MM
    broken[1:-1] |= down
    broken[:, 1:-1] |= along
    return broken
