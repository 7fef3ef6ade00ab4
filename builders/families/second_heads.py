"""Heads of a second family in our own mesh: the ICT Face Model Light (MIT, USC ICT).

``python -m builders.families.second_heads ARRAYS OUT`` lays our mean head on the family's mean head
and carries its identities, expressions and teeth over. The arrays (``ict_face_model_light.npz``)
are given by their path and never copied into the project.
"""

import argparse
import dataclasses
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import RBFInterpolator
from scipy.spatial import cKDTree

from sitwell.head.regions import Region
from sitwell.head.surface import SIDES, Head, build_head
from sitwell.head.template import load_template

Array = NDArray[np.float64]
Floats = NDArray[np.float32]
FACE, HEAD, TEETH = slice(0, 9409), slice(0, 11248), slice(17039, 21451)
BALLS = {"own_left": slice(21451, 23021), "own_right": slice(23021, 24591)}
TEETH_POLYGONS = slice(17006, 21496)
IDENTITIES = 70
# Of the usual 68 landmarks: their vertices there and their numbers among the landmarker's 478.
THERE = (
    1225, 1888, 1052, 367, 1719, 1722, 2199, 1447, 966, 3661, 4390, 3927, 3924, 2608, 3272, 4088,
    3443, 268, 493, 1914, 2044, 1401, 3615, 4240, 4114, 2734, 2509, 978, 4527, 4942, 4857, 1140,
    2075, 1147, 4269, 3360, 1507, 1542, 1537, 1528, 1518, 1511, 3742, 3751, 3756, 3721, 3725, 3732,
    5708, 5695, 2081, 0, 4275, 6200, 6213, 6346, 6461, 5518, 5957, 5841, 5702, 5711, 5533, 6216,
    6207, 6470, 5517, 5966,
)  # fmt: skip
HERE = (
    162, 234, 93, 58, 172, 136, 149, 148, 152, 377, 378, 365, 397, 288, 323, 454, 389,
    71, 63, 105, 66, 107, 336, 296, 334, 293, 301, 168, 197, 5, 4, 75, 97, 2, 326, 305,
    33, 160, 158, 133, 153, 144, 362, 385, 387, 263, 373, 380,
    61, 39, 37, 0, 267, 269, 291, 405, 314, 17, 84, 181, 78, 82, 13, 312, 308, 317, 14, 87,
)  # fmt: skip
_JAW = slice(0, 17)
_EAR_OUT_MM = 80.5  # beyond it to the sides there is nothing but ear


@dataclass(frozen=True, slots=True, kw_only=True)
class Family:
    """Our mesh's vertices for the mean (V, 3), by identity (K, V, 3) and expression (E, V, 3), mm.

    ``teeth_mm`` (T, 3) and how expressions move them (E, T, 3), with their ``teeth_triangles``.
    """

    mean_mm: Floats
    identity_mm: Floats
    expression_mm: Floats
    expression_names: tuple[str, ...]
    eyes_mm: Floats
    teeth_mm: Floats
    teeth_pulled_mm: Floats
    teeth_triangles: NDArray[np.int32]


def convert(arrays: Path, out: Path) -> None:
    """Lay our mean head on the family's and write what ``family`` reads."""
    with np.load(arrays) as stored:
        mean = stored["mean_cm"].astype(np.float64) * 10.0
        identity = stored["identity_cm"][:IDENTITIES].astype(np.float32) * 10.0
        expression = stored["expression_cm"].astype(np.float32) * 10.0
        names = [str(name) for name in stored["expression_names"]]
        polygons = stored["polygons"]
    middle = sum(_centre(mean[BALLS[side]]) for side in SIDES) / 2.0
    mean = mean - middle
    laid, nearest = _laid(mean, polygons)
    own_mean = _fitted(laid, mean)

    def carried(moves: Floats) -> Floats:
        made = moves[:, nearest[0]] * nearest[1][None, :, None]
        for near, share in zip(nearest[2::2], nearest[3::2], strict=True):
            made = made + moves[:, near] * share[None, :, None]
        for side in SIDES:
            ball = load_template().eyeball_vertices[side]
            made[:, ball] = moves[:, BALLS[side]].mean(axis=1, keepdims=True)
        return made.astype(np.float32)

    quads = polygons[TEETH_POLYGONS] - TEETH.start
    whole = quads[:, 3] >= 0
    triangles = np.concatenate([quads[:, :3], quads[whole][:, [0, 2, 3]]])
    eyes = np.stack([_centre(mean[BALLS[side]]) for side in SIDES])
    balls_of = np.stack([identity[:, BALLS[side]].mean(axis=1) for side in SIDES], axis=1)
    np.savez_compressed(
        out, mean=own_mean.astype(np.float32), identity=carried(identity).astype(np.float16),
        expression=carried(expression).astype(np.float16), names=np.array(names),
        eyes=eyes.astype(np.float32), eyes_of=balls_of.astype(np.float32),
        teeth=mean[TEETH].astype(np.float32), teeth_pulled=expression[:, TEETH].astype(np.float16),
        teeth_triangles=triangles.astype(np.int32),
    )  # fmt: skip


def _centre(ball: Array) -> Array:
    """The middle of the sphere that fits points best."""
    system = np.hstack([2 * ball, np.ones((len(ball), 1))])
    return np.linalg.lstsq(system, (ball**2).sum(axis=1), rcond=None)[0][:3]


def _normals(points: Array, triangles: NDArray[np.int64]) -> Array:
    a, b, c = (points[triangles[:, k]] for k in range(3))
    across = np.cross(b - a, c - a)
    total = np.zeros_like(points)
    for k in range(3):
        np.add.at(total, triangles[:, k], across)
    return total / np.maximum(np.linalg.norm(total, axis=1, keepdims=True), 1e-9)


def _ear_box(points: Array) -> Array:
    """Eight corners of the box about an ear's points, by their own ends."""
    low, high = np.percentile(points, (1, 99), axis=0)
    return np.array([[x, y, z] for x in (low[0], high[0]) for y in (low[1], high[1])
                     for z in (low[2], high[2])])  # fmt: skip


def _laid(mean: Array, polygons: NDArray[np.int32]) -> tuple[Array, list[NDArray[np.generic]]]:
    """Our mean head's vertices bent onto the family's, and their three nearest there by share."""
    template, head = load_template(), build_head()
    here = head.vertices_mm.astype(np.float64)
    of_mark = np.einsum(
        "nk,nkc->nc", template.landmark_weights[list(HERE)],
        here[template.triangles[template.landmark_triangle[list(HERE)]]],
    )  # fmt: skip
    keep = np.ones(68, bool)
    keep[_JAW] = False
    keep[8] = True
    starts, ends = [of_mark[keep]], [mean[list(THERE)][keep]]
    face = mean[FACE]
    for side, sign in zip(SIDES, (1.0, -1.0), strict=True):
        own = np.unique(
            template.triangles[template.region_of_triangle == Region[f"EAR_{side.upper()}"]]
        )
        own = own[sign * here[own, 0] > _EAR_OUT_MM]
        starts.append(_ear_box(here[own]))
        ends.append(_ear_box(face[sign * face[:, 0] > _EAR_OUT_MM]))
    # skull and neck: a skull's points toward the nearest there, the neck's with the chin
    tree_all = cKDTree(mean[HEAD])
    skull = np.flatnonzero((here[:, 1] > 35) & ((here[:, 2] < -40) | (here[:, 1] > 80)))
    for index in skull[:: max(1, len(skull) // 90)]:
        starts.append(here[index][None])
        ends.append(mean[HEAD][tree_all.query(here[index])[1]][None])
    chin = mean[THERE[8]] - of_mark[8]
    neck = np.flatnonzero(here[:, 1] < -140)
    for index in neck[:: max(1, len(neck) // 30)]:
        starts.append(here[index][None])
        ends.append((here[index] + chin * [0.0, 1.0, 1.0])[None])
    warp = RBFInterpolator(np.vstack(starts), np.vstack(ends), kernel="linear", smoothing=0.3)
    laid = warp(here)
    quads = polygons[:11144]
    whole = quads[:, 3] >= 0
    triangles = np.concatenate([quads[:, :3], quads[whole][:, [0, 2, 3]]]).astype(np.int64)
    out_there = _normals(mean, triangles)[HEAD]
    tree = cKDTree(np.hstack([mean[HEAD], 8.0 * out_there]))
    skin = ~np.isin(np.arange(len(here)), np.concatenate(list(template.eyeball_vertices.values())))
    neighbours = cKDTree(here).query(here, 24)[1]
    ears = np.zeros(len(here), bool)
    for side in SIDES:
        ears[template.triangles[template.region_of_triangle == Region[f"EAR_{side.upper()}"]]] = (
            True
        )
    for _ in range(6):
        out_here = _normals(laid, template.triangles.astype(np.int64))
        far, near = tree.query(np.hstack([laid, 8.0 * out_here]))
        step = mean[HEAD][near] - laid
        step = np.einsum("vc,vc->v", step, out_here)[:, None] * out_here
        step[(far > 12.0) | ~skin | ears | (here[:, 1] < -125)] = 0.0
        for _ in range(3):
            step = step[neighbours].mean(axis=1)
        laid[skin] += step[skin]
    out_here = _normals(laid, template.triangles.astype(np.int64))
    far, near = tree.query(np.hstack([laid, 8.0 * out_here]), 3)
    share = 1.0 / (far + 1.0)
    share /= share.sum(axis=1, keepdims=True)
    parts: list[NDArray[np.generic]] = []
    for k in range(3):
        parts += [near[:, k], share[:, k].astype(np.float32)]
    return laid, parts


def _fitted(laid: Array, mean: Array) -> Array:
    """The laid head with its eyeballs on the family's own."""
    template, head = load_template(), build_head()
    for side in SIDES:
        ball = template.eyeball_vertices[side]
        laid[ball] = head.vertices_mm[ball] - head.eye_centre_mm[side] + _centre(mean[BALLS[side]])
    return laid


@cache
def family(path: Path) -> tuple[Family, Floats]:
    """The family in a file that ``convert`` wrote, and how identities move eyes (K, 2, 3)."""
    with np.load(path) as stored:
        return Family(
            mean_mm=stored["mean"],
            identity_mm=stored["identity"].astype(np.float32),
            expression_mm=stored["expression"].astype(np.float32),
            expression_names=tuple(str(name) for name in stored["names"]),
            eyes_mm=stored["eyes"],
            teeth_mm=stored["teeth"],
            teeth_pulled_mm=stored["teeth_pulled"].astype(np.float32),
            teeth_triangles=stored["teeth_triangles"],
        ), stored["eyes_of"]


# What goes together in a face that is pulled, how often, and how far at most; both sides each.
_PULLED = (
    ({"mouthSmile": 1.0, "cheekSquint": 0.5, "cheekRaiser": 0.4, "eyeSquint": 0.3}, 0.4, 1.0),
    ({"mouthSmile": 0.9, "mouthUpperUp": 0.7, "mouthLowerDown": 0.4, "jawOpen": 0.12}, 0.2, 1.0),
    ({"eyeSquint": 1.0}, 0.15, 0.9),
    ({"eyeBlink": 1.0}, 0.15, 1.0),
    ({"browInnerUp": 1.0, "browOuterUp": 0.8}, 0.15, 0.8),
    ({"browDown": 1.0}, 0.15, 0.8),
    ({"jawOpen": 1.0}, 0.15, 0.5),
    ({"mouthPress": 1.0, "mouthClose": 0.0}, 0.1, 0.7),
    ({"mouthPucker": 1.0}, 0.06, 0.7),
    ({"mouthFrown": 1.0}, 0.08, 0.7),
    ({"mouthLeft": 1.0}, 0.04, 0.6),
    ({"mouthRight": 1.0}, 0.04, 0.6),
    ({"noseSneer": 1.0}, 0.05, 0.7),
)


def drawn_head(path: Path, hairline_mm: float, rng: np.random.Generator) -> tuple[Head, Floats]:
    """A head of the family with a face pulled, and its teeth (T, 3)."""
    own, eyes_of = family(path)
    template = load_template()
    coefficient = (rng.normal(size=len(own.identity_mm)) * rng.uniform(0.6, 1.15)).astype(
        np.float32
    )
    amounts = np.zeros(len(own.expression_names), np.float32)
    for units, often, most in _PULLED:
        if rng.random() < often:
            strength = rng.uniform(0.1, most)
            for unit, part in units.items():
                for index, name in enumerate(own.expression_names):
                    if name.split("_")[0] == unit:
                        amounts[index] += strength * part * rng.uniform(0.8, 1.0)
    amounts = np.clip(amounts, 0, 1.0)
    vertices = own.mean_mm + np.tensordot(coefficient, own.identity_mm, 1)
    vertices += np.tensordot(amounts, own.expression_mm, 1)
    eyes = own.eyes_mm + np.tensordot(coefficient, eyes_of, 1)
    middle = eyes.mean(axis=0)
    teeth = own.teeth_mm + np.tensordot(amounts, own.teeth_pulled_mm, 1) - middle
    vertices = vertices - middle
    base = build_head(hairline_mm=hairline_mm)
    gaze = rng.normal(0, 0.12, 3)
    centres = {}
    for side, place in zip(SIDES, eyes - middle, strict=True):
        ball, lids = template.eyeball_vertices[side], template.lid_vertices[side]
        out = base.vertices_mm[ball] - base.eye_centre_mm[side]
        out = out @ _spun(gaze).T
        vertices[ball] = place + out
        away = vertices[lids] - place
        far = np.linalg.norm(away, axis=1, keepdims=True)
        vertices[lids] = place + away * np.maximum(far, template.eye_radius_mm + 0.3) / far
        centres[side] = place.astype(np.float32)
    head = dataclasses.replace(base, vertices_mm=vertices.astype(np.float32), eye_centre_mm=centres)
    return head, teeth.astype(np.float32)


def _spun(angles: Array) -> Array:
    from scipy.spatial.transform import Rotation

    return Rotation.from_rotvec(angles * [1.0, 1.0, 0.0]).as_matrix()


def main() -> None:
    """Convert."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("arrays", type=Path)
    parser.add_argument("out", type=Path)
    arguments = parser.parse_args()
    convert(arguments.arrays, arguments.out)


if __name__ == "__main__":
    main()
