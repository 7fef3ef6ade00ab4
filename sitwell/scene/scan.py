"""A scanned head as a Head: the parametric head fitted to the scan, then laid onto its surface.

The result keeps the parametric head's mesh, so that regions, named points, landmarks, lids and
eyeballs stay what they are and everything that takes a fitted head takes a scanned one. What the
scan leaves open or shows badly (eyeballs, inner nostrils, mouth, holes) is the parametric head's.
"""

import dataclasses
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix, diags
from scipy.sparse.linalg import splu
from scipy.spatial import cKDTree

from sitwell.base.words import mark, number, tr
from sitwell.head.basis import USED_LANDMARKS, landmark_basis
from sitwell.head.facing import to_vertices, vertex_normals
from sitwell.head.pose import rotation_from_vector
from sitwell.head.problem import MEAN_IPD_MM
from sitwell.head.regions import EYE, Region
from sitwell.head.surface import LID_CLEARANCE_MM, SIDES, Head, head_from_values
from sitwell.head.template import load_template
from sitwell.scene.scan_face import find_face
from sitwell.scene.scan_file import Surface, load_scan

UNITS_MM = {"metres": 1000.0, "inches": 25.4, "centimetres": 10.0, "millimetres": 1.0}
_IN_UNIT = {
    "metres": mark("The scan is taken to be in metres, from the size of the face."),
    "inches": mark("The scan is taken to be in inches, from the size of the face."),
    "centimetres": mark("The scan is taken to be in centimetres, from the size of the face."),
    "millimetres": mark("The scan is taken to be in millimetres, from the size of the face."),
}
WIDEST_OFF = 0.22  # a face may be this much larger or smaller than the mean one in a unit
LANDMARK_SPREAD_MM, SURFACE_SPREAD_MM = 2.0, 4.5  # the surface's errors hang together
LANDMARK_ROUNDS, SURFACE_ROUNDS = 6, 10
ALIKE_COSINE = 0.5
STIFFNESS = (30.0, 10.0, 3.0, 1.0, 0.4)  # of the laying on, round by round
LID_KEEP_MM = 1.0  # lids this near the eyeball keep their shape: scans blur them
LIDS = frozenset(region for region in Region if region.name.startswith("LID"))
NEVER = EYE | {Region.SOCKET, Region.NOSTRIL_OWN_LEFT, Region.NOSTRIL_OWN_RIGHT}
REACH_MM = {Region.SCALP: 30.0, Region.NECK: 15.0, Region.EAR_OWN_LEFT: 9.0,
            Region.EAR_OWN_RIGHT: 9.0}  # fmt: skip
USUAL_REACH_MM = 12.0
SPACINGS, LEAST_SPACING_MM = 2.0, 2.0

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Scan:
    """A scanned head, what there is to say about it, and how well it lies on the scan.

    ``off_mm`` is the middle distance of the face from the scan, ``covered`` the share of the
    head's visible surface that lies on it.
    """

    head: Head
    notes: tuple[str, ...]
    off_mm: float
    covered: float


def read_scan(path: str | Path) -> Scan:
    """The head of an OBJ, PLY or GLB file, any way up and in any usual unit; HeadError if not."""
    path = Path(path)
    surface = load_scan(path)
    placed, landmarks = find_face(surface, path.name)
    unit_mm, unit_note = _unit(placed.scale)
    points = unit_mm * surface.vertices @ placed.rotation.T
    shift = placed.shift_mm
    normals = vertex_normals(surface.vertices, surface.triangles) @ placed.rotation.T
    fitted = _Fitting(points + shift, normals, unit_mm * landmarks @ placed.rotation.T + shift)
    fitted.to_landmarks()
    fitted.to_surface()
    head, off_mm, covered = _laid_on(fitted)
    notes = [unit_note, tr(_EYES)]
    if covered < 0.85:
        notes.append(tr(_HOLES, share=number(100.0 * (1.0 - covered), 0)))
    return Scan(head=head, notes=tuple(notes), off_mm=off_mm, covered=covered)


_EYES = mark(
    "Eyeballs, lids' edges, inner nostrils and mouth are the head model's, since scans blur them; "
    "all else lies on the scan, hair included."
)
_HOLES = mark("The scan leaves {share} % of the head open; there the head model stands in.")


def _unit(scale: float) -> tuple[float, str]:
    """Millimetres per unit of the scan, and a note; ``scale`` would make the face a mean one."""
    name = min(UNITS_MM, key=lambda unit: abs(np.log(UNITS_MM[unit] / scale)))
    unit_mm = UNITS_MM[name]
    if abs(np.log(unit_mm / scale)) < np.log1p(WIDEST_OFF):
        return unit_mm, tr(_IN_UNIT[name])
    return scale, tr(
        "The scan is in no usual unit, so its face was sized as a mean one ({ipd} mm between the "
        "pupils); its millimetres are a guess.",
        ipd=number(MEAN_IPD_MM),
    )


class _Fitting:
    """Shape sliders and a rigid move that bring the parametric head and the scan together."""

    def __init__(self, points: Floats, normals: Floats, landmarks: Floats) -> None:
        template = load_template()
        self.points, self.normals, self.landmarks = points, normals, landmarks
        self.sigma = template.shape_sigma.astype(np.float64)
        apart = cKDTree(points).query(points, k=2)[0][:, 1]
        self.spacing = max(SPACINGS * float(np.median(apart)), LEAST_SPACING_MM)
        self.in_sigmas = np.zeros(len(self.sigma))
        self.region = _of_vertices(template.triangles, template.region_of_triangle)
        # on a plainly drawn scan the eyes have no colours, and the landmarks close them
        self.at_lids = np.isin(
            template.region_of_triangle[template.landmark_triangle[USED_LANDMARKS]], list(LIDS)
        )
        self.matched = ~np.isin(self.region, list(NEVER))
        self.reach = np.full(len(self.region), USUAL_REACH_MM)
        for region, reach_mm in REACH_MM.items():
            self.reach[self.region == region] = reach_mm

    def head(self) -> Head:
        """The parametric head as fitted so far."""
        template = load_template()
        still = np.zeros(len(template.expression_names), dtype=np.float32)
        return head_from_values(template, (self.in_sigmas * self.sigma).astype(np.float32), still)

    def to_landmarks(self) -> None:
        """First by the landmarks alone."""
        for _ in range(LANDMARK_ROUNDS):
            self._step(*self._landmark_rows())

    def to_surface(self) -> None:
        """Then by the landmarks and by what lies nearest on the surface."""
        template = load_template()
        slope = template.shape_mm.astype(np.float64) * self.sigma[:, None, None]
        for _ in range(SURFACE_ROUNDS):
            vertices, which, near = self.nearest(self.head())
            chosen = np.flatnonzero(near)
            normal = self.normals[which[chosen]]
            place = vertices[chosen]
            rest = (normal * (self.points[which[chosen]] - place)).sum(axis=1)
            by_shape = np.einsum("knc,nc->nk", slope[:, chosen], normal)
            by_turn = np.cross(place, normal)
            rows = np.hstack([by_shape, by_turn, normal]) / SURFACE_SPREAD_MM
            marked, marked_rest = self._landmark_rows()
            self._step(
                np.vstack([rows, marked]), np.concatenate([rest / SURFACE_SPREAD_MM, marked_rest])
            )

    def nearest(self, head: Head) -> tuple[Floats, NDArray[np.int64], NDArray[np.bool_]]:
        """A head's vertices, the scan point nearest to each, and whether they belong together."""
        vertices = head.vertices_mm.astype(np.float64)
        own = vertex_normals(vertices, head.triangles)
        off, which = cKDTree(self.points).query(vertices)
        alike = (own * self.normals[which]).sum(axis=1) > ALIKE_COSINE
        # beside a hole the nearest point lies aside, at the hole's edge
        along = (self.normals[which] * (self.points[which] - vertices)).sum(axis=1)
        aside = np.sqrt(np.maximum(off**2 - along**2, 0.0)) < self.spacing
        return vertices, which, self.matched & alike & aside & (off < self.reach)

    def _landmark_rows(self) -> tuple[Floats, Floats]:
        basis = landmark_basis()
        shape = self.in_sigmas * self.sigma
        places = basis.at(shape, np.zeros(len(basis.expression_mm)))
        usable = np.isfinite(self.landmarks).all(axis=1) & ~self.at_lids
        off = np.linalg.norm(self.landmarks - places, axis=1)
        usable &= off < 3.0 * np.nanmedian(off) + 1.0
        rest = (self.landmarks - places)[usable]
        count, sliders = len(rest), len(self.sigma)
        rows = np.zeros((count, 3, sliders + 6))
        rows[:, :, :sliders] = basis.slope_mm[usable, :, :sliders]
        for axis in range(3):
            unit = np.eye(3)[axis]
            rows[:, :, sliders + axis] = np.cross(unit, places[usable])
            rows[:, axis, sliders + 3 + axis] = 1.0
        spread = LANDMARK_SPREAD_MM
        return rows.reshape(-1, sliders + 6) / spread, rest.reshape(-1) / spread

    def _step(self, rows: Floats, rest: Floats) -> None:
        """One least-squares step; the prior holds the sliders, the scan takes the rigid part."""
        sliders = len(self.sigma)
        held = np.zeros(sliders + 6)
        held[:sliders] = 1.0
        pull = rows.T @ rest
        pull[:sliders] -= self.in_sigmas
        matrix = rows.T @ rows + np.diag(held + 1e-9)
        step = np.asarray(np.linalg.solve(matrix, pull), dtype=np.float64)
        self.in_sigmas = self.in_sigmas + step[:sliders]
        back = rotation_from_vector(-step[sliders : sliders + 3])
        shift = step[sliders + 3 :]
        self.points = (self.points - shift) @ back.T
        self.landmarks = (self.landmarks - shift) @ back.T
        self.normals = self.normals @ back.T


def _laid_on(fitted: _Fitting) -> tuple[Head, float, float]:
    """The fitted head with its vertices moved onto the scan, smoothly, along their normals."""
    head = fitted.head()
    start = head.vertices_mm.astype(np.float64)
    stiff = _stiffness(head)
    lids = _near_eyes(head)
    moved, near = head, np.zeros(len(start), dtype=bool)
    off = np.zeros(len(start))
    for stiffness in STIFFNESS:
        vertices, which, near = fitted.nearest(moved)
        near &= ~lids
        normal = vertex_normals(vertices, head.triangles)
        off = (normal * (fitted.points[which] - vertices)).sum(axis=1)
        wanted = (vertices - start + normal * off[:, None]) * near[:, None]
        weight = near.astype(np.float64)
        solver = splu((diags(weight + 1e-4) + stiffness * stiff).tocsc())
        vertices = start + solver.solve(wanted)
        moved = dataclasses.replace(moved, vertices_mm=vertices.astype(np.float32))
    whole = _with_eyes(moved, head)
    seen = fitted.matched & ~lids
    face = seen & (fitted.region != Region.SCALP) & (fitted.region != Region.NECK)
    return whole, float(np.median(np.abs(off[face & near]))), float(near[seen].mean())


def _stiffness(head: Head) -> coo_matrix:
    """How an uneven move costs: the squared graph Laplacian of the mesh."""
    count = len(head.vertices_mm)
    sides = np.sort(head.triangles[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    ends = np.unique(sides, axis=0)
    both = np.concatenate([ends, ends[:, ::-1]])
    links = coo_matrix((np.ones(len(both)), (both[:, 0], both[:, 1])), shape=(count, count))
    degree = np.maximum(np.asarray(links.sum(axis=1)).ravel(), 1.0)
    laplacian = diags(np.ones(count)) - diags(1.0 / degree) @ links
    return laplacian.T @ laplacian


def _near_eyes(head: Head) -> NDArray[np.bool_]:
    vertices = head.vertices_mm.astype(np.float64)
    close = np.zeros(len(vertices), dtype=bool)
    for side in SIDES:
        off = np.linalg.norm(vertices - head.eye_centre_mm[side], axis=1) - head.eye_radius_mm
        close |= off < LID_KEEP_MM
    return close


def _with_eyes(moved: Head, head: Head) -> Head:
    """The eyeballs carried along by what moved around them, the lids clear of them again."""
    template = load_template()
    vertices = moved.vertices_mm.copy()
    centres = dict(head.eye_centre_mm)
    for side in SIDES:
        lids, ball = template.lid_vertices[side], template.eyeball_vertices[side]
        shift = (vertices[lids] - head.vertices_mm[lids]).mean(axis=0)
        centres[side] = centres[side] + shift
        vertices[ball] = head.vertices_mm[ball] + shift
        out = vertices[lids] - centres[side]
        length = np.linalg.norm(out, axis=1, keepdims=True)
        wanted = np.maximum(length, head.eye_radius_mm + LID_CLEARANCE_MM)
        vertices[lids] = centres[side] + out * (wanted / length)
    return dataclasses.replace(moved, vertices_mm=vertices, eye_centre_mm=centres)


def _of_vertices(triangles: NDArray[np.int32], region: NDArray[np.uint8]) -> NDArray[np.int64]:
    """A region for each vertex (V,): the one most of its triangles have."""
    count = int(triangles.max()) + 1
    shares = to_vertices(triangles, np.eye(len(Region))[region], count)
    return np.asarray(shares.argmax(axis=1))


__all__ = ["Scan", "Surface", "read_scan"]
