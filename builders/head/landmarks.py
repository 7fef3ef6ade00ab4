"""Places the 478 face landmarks on the mean head, by showing it to the landmarker.

The mean head is rendered from a fan of small turns and chins, the landmarks found are traced back
along their rays to the surface, averaged, and made alike on both sides.
"""

from typing import Any

import numpy as np
from embreex import rtcore_scene
from embreex.mesh_construction import TriangleMesh
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment
from scipy.spatial import cKDTree

from builders.head.source import Floats, Ints
from builders.pictures.ray_traced import Light, pose_at, render
from sitwell.brief.exif import ExifFacts
from sitwell.brief.focal import find_focal
from sitwell.brief.photos import Photo
from sitwell.face.landmarks import find_faces
from sitwell.head.regions import EYE, FACE, Region
from sitwell.head.surface import Head, head_from_values
from sitwell.head.template import DATA, Template

LANDMARKS = 478
SIZE_PX = 512
DISTANCE_MM = 1500.0
FOCAL_PX = 2400.0  # the face fills about half of the picture's height
TURNS_DEG = (-10.0, -5.0, 0.0, 5.0, 10.0)
CHINS_DEG = (-6.0, 0.0, 6.0)
IRIS = np.arange(468, LANDMARKS)  # the last ten landmarks lie on the two irises
NEAREST = 24  # triangles looked at when a point is put on the surface


def landmark_anchors(template: Template) -> dict[str, Any]:
    """Triangle (478,) and corner weights (478, 3) of each landmark on the mean head."""
    shape = np.zeros(len(template.shape_names), dtype=np.float32)
    head = head_from_values(
        template, shape, np.zeros(len(template.expression_names), dtype=np.float32)
    )
    places = [_traced(head, turn, chin) for turn in TURNS_DEG for chin in CHINS_DEG]
    mean = np.mean(places, axis=0)
    pairs = _mirror_pairs(mean)
    uneven = np.linalg.norm(mean - mean[pairs] * [-1, 1, 1], axis=1)
    print(
        f"landmarks: {len(places)} views, scatter {np.std(places, axis=0).max(axis=1).mean():.2f} "
        f"mm, uneven by {np.median(uneven):.2f} mm (95 %: {np.percentile(uneven, 95):.2f})"
    )
    even = (mean + mean[pairs] * [-1, 1, 1]) / 2
    even[pairs == np.arange(LANDMARKS), 0] = 0.0
    eye = np.isin(head.region_of_triangle, list(EYE))
    skin = ~eye & (head.region_of_triangle != Region.SOCKET)
    is_iris = np.isin(np.arange(LANDMARKS), IRIS)
    triangle, weights = np.zeros(LANDMARKS, dtype=np.int32), np.zeros((LANDMARKS, 3))
    for chosen, allowed in ((~is_iris, skin), (is_iris, eye)):
        found = _on_surface(head, even[chosen], np.flatnonzero(allowed))
        triangle[chosen], weights[chosen] = found
    return {"landmark_triangle": triangle, "landmark_weights": weights.astype(np.float32)}


def _traced(head: Head, turn_deg: float, chin_deg: float) -> Floats:
    """Landmarks (478, 3) of one view in the head frame, on the surface along their rays."""
    pose = pose_at(turn_deg, chin_deg, 0.0, DISTANCE_MM)
    lights = [Light(azimuth_deg=0.0, elevation_deg=25.0, strength=1.0, size_deg=25.0)]
    rgb = render(
        head, pose, focal_px=FOCAL_PX, size_px=(SIZE_PX, SIZE_PX), lights=lights, ambient=0.4
    )
    faces = find_faces(_photo(rgb))
    if not faces:
        raise SystemExit(f"No face was found at turn {turn_deg}, chin {chin_deg} degrees.")
    across = (faces[0].landmarks_px - SIZE_PX / 2) / FOCAL_PX * (1.0, -1.0)
    rays = np.column_stack([across, -np.ones(LANDMARKS)])
    rays = rays / np.linalg.norm(rays, axis=1, keepdims=True) @ pose.rotation
    lens = -pose.rotation.T @ pose.place_mm
    eye = np.isin(head.region_of_triangle, list(EYE))
    points = _hit(head, lens, rays, np.ones(len(eye), dtype=bool), list(FACE))
    points[IRIS] = _hit(head, lens, rays[IRIS], eye, list(EYE))
    return points


def _photo(rgb: NDArray[np.uint8]) -> Photo:
    focal_35_mm = FOCAL_PX / (SIZE_PX * np.sqrt(2.0)) * np.hypot(36.0, 24.0)
    return Photo(
        path=DATA,
        rgb=rgb,
        width_px=SIZE_PX,
        height_px=SIZE_PX,
        facts=ExifFacts(),
        focal=find_focal(ExifFacts(), SIZE_PX, SIZE_PX, focal_35_mm=float(focal_35_mm)),
    )


def _hit(
    head: Head, lens: Floats, rays: Floats, chosen: NDArray[np.bool_], spare: list[Region]
) -> Floats:
    """Where rays (N, 3) meet the chosen triangles.

    A ray that misses, or that slips into the mouth or behind a lid, gives the vertex of the
    ``spare`` regions that it passes nearest.
    """
    scene = rtcore_scene.EmbreeScene()
    corners = head.vertices_mm[head.triangles[chosen]]
    TriangleMesh(scene, np.ascontiguousarray(corners, dtype=np.float32))
    origins = np.tile(lens, (len(rays), 1)).astype(np.float32)
    hit = scene.run(origins, rays.astype(np.float32), output=1)
    points = lens + rays * hit["tfar"][:, None]
    struck = head.region_of_triangle[chosen][hit["primID"]]
    in_spare = np.isin(head.region_of_triangle, spare)
    vertices = head.vertices_mm[np.unique(head.triangles[in_spare])]
    for lost in np.flatnonzero((hit["primID"] < 0) | (struck == Region.SOCKET)):
        aside = np.cross(vertices - lens, rays[lost])
        points[lost] = vertices[np.argmin(np.linalg.norm(aside, axis=1))]
    return points


def _mirror_pairs(points: Floats) -> Ints:
    """Each landmark's partner on the other side: the pairing with the least distance in all."""
    apart = np.linalg.norm(points[:, None] - points[None] * [-1, 1, 1], axis=2)
    pairs = linear_sum_assignment(apart)[1]
    odd = np.flatnonzero(pairs[pairs] != np.arange(len(points)))
    if len(odd):
        raise SystemExit(f"Landmarks {odd.tolist()} have no mirror partner.")
    return pairs


def _on_surface(head: Head, points: Floats, allowed: Ints) -> tuple[Ints, Floats]:
    """The allowed triangle nearest to each point, and the weights of the nearest spot in it."""
    corners = head.vertices_mm[head.triangles[allowed]].astype(np.float64)
    near = cKDTree(corners.mean(axis=1)).query(points, k=NEAREST)[1]
    triangle, weights = np.zeros(len(points), dtype=np.int32), np.zeros((len(points), 3))
    for row, candidates in enumerate(near):
        shares = np.array([_nearest_spot(points[row], corners[c]) for c in candidates])
        spots = np.einsum("nk,nkc->nc", shares, corners[candidates])
        best = int(np.argmin(np.linalg.norm(spots - points[row], axis=1)))
        triangle[row], weights[row] = allowed[candidates[best]], shares[best]
    return triangle, weights


def _nearest_spot(point: Floats, corners: Floats) -> Floats:
    """Weights (3,) of the point of a triangle nearest to ``point``."""
    sides = corners[1:] - corners[0]
    inside, *_ = np.linalg.lstsq(sides.T, point - corners[0], rcond=None)
    weights = np.array([1.0 - inside.sum(), *inside])
    if weights.min() >= 0.0:
        return weights
    best, nearest = weights, np.inf
    for a, b in ((0, 1), (1, 2), (2, 0)):
        side = corners[b] - corners[a]
        length = max(float(side @ side), 1e-12)  # a few triangles in the mouth have no width
        share = np.clip((point - corners[a]) @ side / length, 0.0, 1.0)
        distance = float(np.linalg.norm(corners[a] + share * side - point))
        if distance < nearest:
            nearest, best = distance, np.zeros(3)
            best[a], best[b] = 1.0 - share, share
    return best
