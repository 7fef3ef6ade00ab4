"""What each vertex shows in a picture from one frame: its own pixels, and what is made up.

What the frame did not see takes the colour of what it saw beside it, hair from hair and skin from
skin, spread smoothly over the head. Hair keeps its texture: just past an outline the photograph
goes on in the mirror of it, and that detail is laid on the spread colour.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix, diags
from scipy.sparse.linalg import splu

from sitwell.head.regions import Region
from sitwell.head.shading import linear_from_srgb
from sitwell.head.surface import Head
from sitwell.likeness.aspect import Aspect
from sitwell.likeness.body import Body, with_mouth
from sitwell.likeness.plate import PX_PER_MM, Plate
from sitwell.likeness.texture import MOST_MM, hair_piece, on_piece
from sitwell.scene.refine import Refinement
from sitwell.scene.skin_tone import lightness_mean, middle_of_face

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

SEEN_WEIGHT, HOLD = 30.0, 1e-5  # of the solves, against the mesh's own stiffness
ACROSS = 0.002  # how stiff the mesh is between hair and skin
HAIR_HOLD = 5.0  # vertices: a frame must show more bare scalp to tell of a bald head
SURE_GUESS, UNSURE_GUESS = 0.3, 0.003  # how surely the unseen scalp is hair, and the rest skin
EAR_SEEN = 20.0  # vertices of an ear, to tell whether it lies bare
DARKEST = 1e-3
NEAR_MM, WIDE_MM = 1.5, 6.0
LEAST_GAIN, MOST_GAIN = 0.3, 2.5
HAIR_DETAIL, SKIN_DETAIL = 0.9, 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Colours:
    """Of N vertices: ``hair`` (N,) how likely each is hair, ``fill`` (N, 3) its made-up colour,

    ``gain`` (N, 3) what turns the plate's pixel there into that colour with its detail, ``detail``
    (N,) how far it does, ``piece_at``, ``piece_gain`` and ``piece_share`` the same of a piece of
    the frame's plain hair; ``near`` (N, 3) the colours that the frame shows, ``tone`` (3,) that of
    the middle of the face, all linear.
    """

    hair: Floats
    fill: Floats
    gain: Floats
    detail: Floats
    piece_at: Floats
    piece_gain: Floats
    piece_share: Floats
    near: Floats
    tone: Floats


class Filler:
    """Spreads values over a head's mesh from where they are known."""

    def __init__(self, head: Head, body: Body, fine: Refinement) -> None:
        count = len(head.vertices_mm)
        ends = fine.ends.astype(np.int64)
        self._head, self._body, self._fine, self._ends, self._count = head, body, fine, ends, count
        scalp = np.zeros(count, dtype=bool)
        scalp[head.triangles[head.region_of_triangle == Region.SCALP]] = True
        self._guess = np.where(scalp, 1.0, 0.0)
        ears = (Region.EAR_OWN_LEFT, Region.EAR_OWN_RIGHT)
        self._ears = [_vertices(head, fine, region) for region in ears]
        vertices = head.vertices_mm.astype(np.float64)
        middle = middle_of_face(vertices, head.triangles, head.region_of_triangle)
        self._middle = np.unique(head.triangles[middle])

    def spread(self, values: Floats, weight: Floats, stiff: Floats | float = 1.0) -> Floats:
        """Values (N, C) everywhere of values (N, C) that count by ``weight`` (N,)."""
        count, (first, second) = self._count, self._ends.T
        links = np.broadcast_to(np.asarray(stiff, dtype=np.float64), first.shape)
        both = np.concatenate([first, second]), np.concatenate([second, first])
        joined = coo_matrix((np.tile(links, 2), both), shape=(count, count))
        trust = weight[:count] + HOLD
        laplacian = diags(np.asarray(joined.sum(axis=1)).ravel() + trust) - joined
        mean = np.average(values[:count], axis=0, weights=trust)
        sums = weight[:count, None] * values[:count] + HOLD * mean
        return with_mouth(self._body, self._fine.spread(splu(laplacian.tocsc()).solve(sums)))

    def colours(self, aspect: Aspect) -> Colours:
        """What one frame gives; its own light stays in all of its colours."""
        near, wide = (_sampled(aspect.plate, aspect.at, mm) for mm in (NEAR_MM, WIDE_MM))
        told = np.stack(
            [
                aspect.classes.at(which, aspect.at)
                for which in (aspect.classes.hair, aspect.classes.skin)
            ],
            axis=1,
        ).astype(np.float64)
        shows_hair = told[:, 0] / np.maximum(told.sum(axis=1), 1e-3)
        sure = aspect.seen * np.clip(told.sum(axis=1), 0.0, 1.0)
        guess = with_mouth(self._body, self._fine.spread(self._guess[:, None]))
        surely = SURE_GUESS * guess[:, 0] + UNSURE_GUESS
        both = np.concatenate(self._ears)
        for ear in self._ears:
            # an ear that the frame does not show is taken to be as bare as the other one
            told_by = ear if sure[ear].sum() > EAR_SEEN else both
            if sure[told_by].sum() > EAR_SEEN:
                guess[ear] = (sure[told_by] @ shows_hair[told_by]) / sure[told_by].sum()
                surely[ear] = SURE_GUESS
        on_scalp = sure * self._body.scalp
        guess *= (on_scalp @ shows_hair + HAIR_HOLD) / (on_scalp.sum() + HAIR_HOLD)
        weight = SEEN_WEIGHT * sure + surely
        label = (SEEN_WEIGHT * sure * shows_hair + surely * guess[:, 0]) / weight
        hair = np.clip(self.spread(label[:, None], weight)[:, 0], 0.0, 1.0)
        kinds = hair[self._ends] > 0.5
        stiff = np.where(kinds[:, 0] == kinds[:, 1], 1.0, ACROSS)
        plainly = (2.0 * shows_hair - 1.0) ** 2 * np.clip(told.sum(axis=1), 0.1, 1.0)
        fill = self.spread(near, SEEN_WEIGHT * aspect.seen**2 * plainly, stiff)
        fill = np.maximum(fill, DARKEST)
        piece = hair_piece(aspect.plate, aspect.classes)
        piece_at = aspect.at if piece is None else on_piece(self._body, aspect.level_mm, piece)
        wide_there = _sampled(aspect.plate, piece_at, WIDE_MM)
        alike = 1.0 - np.abs(shows_hair - hair)
        usual = HAIR_DETAIL * hair + SKIN_DETAIL * (1.0 - hair)
        covered = aspect.plate.alpha[
            np.clip(aspect.at[:, 1].astype(int), 0, aspect.plate.alpha.shape[0] - 1),
            np.clip(aspect.at[:, 0].astype(int), 0, aspect.plate.alpha.shape[1] - 1),
        ] / 255.0  # fmt: skip
        return Colours(
            hair=hair,
            fill=fill,
            gain=_gain(fill, wide),
            detail=usual * np.clip(4.0 * alike - 3.0, 0.0, 1.0) * covered,
            piece_at=piece_at,
            piece_gain=_gain(fill, wide_there),
            piece_share=hair * (0.0 if piece is None else piece[1] / (MOST_MM * PX_PER_MM)),
            near=near,
            tone=lightness_mean(near[self._middle], aspect.seen[self._middle] + DARKEST),
        )

    def matched(self, one: Aspect, mine: Colours, other: Aspect, theirs: Colours) -> Floats:
        """Factors (N, 3) that bring another frame's colours to one's, smooth over the head."""
        both = one.seen * other.seen
        ratio = np.log(np.maximum(mine.near, DARKEST) / np.maximum(theirs.near, DARKEST))
        ratio = np.clip(ratio, -1.5, 1.5)
        return np.exp(self.spread(ratio, 0.3 * both))


def _vertices(head: Head, fine: Refinement, region: Region) -> Ints:
    """The finer vertices of one region."""
    mine = np.repeat(head.region_of_triangle == region, 4)
    return np.unique(fine.triangles[mine])


def _gain(wanted: Floats, there: Floats) -> Floats:
    return np.clip(wanted / np.maximum(there, DARKEST), LEAST_GAIN, MOST_GAIN)


def _sampled(plate: Plate, places: Floats, mm: float) -> Floats:
    """Linear colours (N, 3) of the plate around places (N, 2), over so many millimetres."""
    blurred = cv2.GaussianBlur(plate.rgb, (0, 0), mm * PX_PER_MM / 2.0)
    at = (places - 0.5).astype(np.float32)
    found = cv2.remap(
        blurred, at[:, :1], at[:, 1:], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    return np.asarray(linear_from_srgb(np.asarray(found[:, 0], dtype=np.uint8)), dtype=np.float64)
