"""Sizes the mean head to a measured population: three scales and seven sliders, nothing more.

Targets are the midpoints of the men's and women's means of ANSUR II (2012), a survey of 6068
US Army personnel, as tabulated by the project from its public files. More freedom gave heads
that met the numbers and looked like nobody.
"""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares
from scipy.spatial import ConvexHull

from builders.head.mesh import MM_PER_DM, Crop
from builders.head.modes import Mode
from builders.head.source import Floats, Ints, Source

# (men mean, men SD, women mean, women SD), mm
ANSUR = {
    "head_breadth": (154.33, 5.53, 147.77, 5.19),
    "head_length": (199.50, 7.02, 189.82, 7.45),
    "bizygomatic": (142.62, 6.22, 133.77, 5.56),
    "menton_sellion": (122.64, 6.67, 113.09, 6.09),
    "interpupillary": (64.02, 3.42, 61.71, 3.62),
    "ear_length": (64.21, 4.51, 59.36, 3.88),
    "ear_breadth": (36.06, 3.02, 33.22, 2.77),
    "ear_protrusion": (23.17, 3.00, 20.39, 2.66),
    "tragion_top": (131.15, 6.16, 126.48, 6.55),
    "neck_girth": (397.65, 25.78, 329.80, 19.22),
    "tragion_chin_arc": (331.65, 14.04, 311.01, 14.16),
}
# relative error that counts as one: most are to be met, two are only to be approached
TOLERANCE = {"neck_girth": 0.03, "tragion_chin_arc": 0.11, "bizygomatic": 0.007}
SLIDERS = (
    "ear_size",
    "ear_breadth",
    "ear_wing",
    "ear_forward",
    "head_back_depth",
    "eye_apart",
    "chin_height",
)
# a tape from the tragion over cheek and jaw to the front of the chin
CHIN_ARC = (12054, 11854, 7039, 7612, 11819, 11905, 11904, 11836, 11834, 11821, 11772, 5162)
SELLION, MENTON, TRAGION = 132, 747, 12054  # source vertices
EAR_TOP, EAR_BOTTOM = 12012, 12027
GLABELLA = 227
# the tape lies square to the neck, which leans forward by about 25 degrees
NECK_ALONG = np.array([0.0, np.cos(np.radians(25.0)), np.sin(np.radians(25.0))])
NECK_ACROSS = np.array([0.0, -np.sin(np.radians(25.0)), np.cos(np.radians(25.0))])


@dataclass(frozen=True, slots=True, kw_only=True)
class Gauges:
    """Source vertices that the calipers and the tape touch."""

    skin: Ints
    ear: Ints
    skull: Ints
    arch: Ints
    back: Ints
    behind_ear: Ints
    neck: Ints


@dataclass(frozen=True, slots=True, kw_only=True)
class Sized:
    """The sized mean: whole-body vertices (N, 3) mm, the scales (3,), and measure -> reached."""

    vertices_mm: Floats
    scale: Floats
    sliders: dict[str, float]
    reached: dict[str, float]


def neutral_dm(source: Source) -> Floats:
    """Source vertices with the mean of its grown-up templates, all weighted alike, added."""
    names = [
        f"macrodetails/{group}-{sex}-young"
        for group in ("african", "asian", "caucasian")
        for sex in ("female", "male")
    ]
    return source.vertices_dm + np.mean([source.target(name) for name in names], axis=0)


def calibrate(source: Source, crop: Crop, modes: list[Mode], ear: Ints) -> Sized:
    """Least-squares fit of scales and SLIDERS to ANSUR; ``ear`` are own-left ear vertices."""
    base = neutral_dm(source) * MM_PER_DM
    base -= base[np.r_[source.left_eye, source.right_eye]].mean(axis=0)
    moves = np.stack([m.odd_dm * MM_PER_DM for m in modes if m.name in SLIDERS])
    names = [m.name for m in modes if m.name in SLIDERS]
    gauges = place_gauges(base, source, crop, ear)

    def shaped(values: Floats) -> Floats:
        vertices = (base + np.tensordot(values[3:], moves, axes=1)) * values[:3]
        return vertices - vertices[np.r_[source.left_eye, source.right_eye]].mean(axis=0)

    def misfit(values: Floats) -> Floats:
        measured = measures(shaped(values), source, gauges)
        errors = [
            (measured[name] / target(name) - 1.0) / TOLERANCE.get(name, 0.01) for name in ANSUR
        ]
        # depth alone is set by one number only; it may not drift from the other two scales
        uneven = (values[2] - (values[0] + values[1]) / 2) / 0.02
        return np.concatenate([errors, 0.3 * values[3:], [uneven]])

    start = np.concatenate([[1.08, 1.07, 1.03], np.zeros(len(names))])
    fitted = least_squares(misfit, start, diff_step=1e-3).x
    vertices = shaped(fitted)
    return Sized(
        vertices_mm=vertices,
        scale=fitted[:3],
        sliders=dict(zip(names, fitted[3:].tolist(), strict=True)),
        reached=measures(vertices, source, gauges),
    )


def target(name: str) -> float:
    """Midpoint of the men's and women's means, mm."""
    return (ANSUR[name][0] + ANSUR[name][2]) / 2


def spread(name: str) -> float:
    """SD of men and women taken together in equal numbers, mm."""
    men, men_sd, women, women_sd = ANSUR[name]
    return float(np.sqrt((men_sd**2 + women_sd**2) / 2 + ((men - women) / 2) ** 2))


def place_gauges(vertices: Floats, source: Source, crop: Crop, ear: Ints) -> Gauges:
    """Picks, on the unsized head (N, 3) mm, the vertices each caliper touches."""
    skin = np.setdiff1d(crop.kept, np.concatenate([ear, source.mirror[ear]]))
    x, y, z = vertices[skin].T
    tragion, rim = vertices[TRAGION], vertices[ear][np.argmax(vertices[ear, 0])]
    ahead = (z > tragion[2] + 8.0) & (z < tragion[2] + 50.0)
    behind = (x > 0) & (z < rim[2] + 2.0) & (z > rim[2] - 14.0)
    along = NECK_ALONG @ vertices[skin].T
    return Gauges(
        skin=skin,
        ear=ear,
        skull=skin[y > tragion[1] + 35.0],
        arch=skin[(np.abs(y - tragion[1] - 3.0) < 12.0) & ahead],
        back=skin[(z < tragion[2]) & (y > tragion[1] - 20.0)],
        behind_ear=skin[(np.abs(y - rim[1]) < 9.0) & behind],
        neck=skin[np.abs(along - np.percentile(along, 4) - 30.0) < 8.0],
    )


def measures(vertices: Floats, source: Source, gauges: Gauges) -> dict[str, float]:
    """ANSUR's caliper and tape measures on the whole-body vertices (N, 3), mm."""
    tragion, ear = vertices[TRAGION], vertices[gauges.ear]
    long_axis = vertices[EAR_TOP] - vertices[EAR_BOTTOM]
    across = np.array([0.0, -long_axis[2], long_axis[1]]) / np.linalg.norm(long_axis[1:])
    neck = np.stack([vertices[gauges.neck, 0], vertices[gauges.neck] @ NECK_ACROSS], axis=1)
    back = vertices[gauges.back] - vertices[GLABELLA]
    return {
        "head_breadth": 2 * float(vertices[gauges.skull, 0].max()),
        "head_length": float(np.linalg.norm(back, axis=1).max()),
        "bizygomatic": 2 * float(vertices[gauges.arch, 0].max()),
        "menton_sellion": float(np.linalg.norm(vertices[SELLION] - vertices[MENTON])),
        "interpupillary": 2 * float(vertices[source.left_eye, 0].mean()),
        "ear_length": float(np.linalg.norm(long_axis)),
        "ear_breadth": float(np.ptp(ear @ across)),
        "ear_protrusion": float(ear[:, 0].max() - vertices[gauges.behind_ear, 0].mean()),
        "tragion_top": float(vertices[gauges.skull, 1].max() - tragion[1]),
        "tragion_chin_arc": _chin_arc(vertices[list(CHIN_ARC)]),
        "neck_girth": float(ConvexHull(neck).area),  # of a flat outline, area is the perimeter
    }


def _chin_arc(path: Floats) -> float:
    """A tape drawn tight over own-left skin (N, 3) from tragion to chin, and its mirror image."""
    forward = (path[-1] - path[0]) * [0.0, 1.0, 1.0]
    along = path @ (forward / np.linalg.norm(forward))
    flat = np.stack([path[:, 0], along], axis=1)
    tape = ConvexHull(np.vstack([flat, flat * [-1.0, 1.0]])).area
    return float(tape - 2 * path[0, 0])
