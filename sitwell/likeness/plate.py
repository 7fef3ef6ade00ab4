"""One frame's person, cut out: their colours, and how much of each pixel is theirs.

The part map and the fitted head say where the person surely is and is not; a graph cut by colour
decides between, and beside its edge a pixel's share is how far its colour lies from that of the
background around it toward the person's (both spread from where they are sure). Hair and hat are
one here. Where the photograph cuts the clothes they go on plainly; where it cuts the hair, the hair
ends there.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_erosion, binary_fill_holes, label

from sitwell.brief.photos import open_photo
from sitwell.face.features import see_features
from sitwell.face.parts import Part, PartsSeen
from sitwell.head.reading import FrameReading
from sitwell.head.shading import linear_from_srgb
from sitwell.likeness.guided import guided
from sitwell.likeness.spreading import spread

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Pixels = NDArray[np.uint8]
Flags = NDArray[np.bool_]

PX_PER_MM = 2.0
COARSE = 4  # plate pixels to one of the grid on which person and background are told apart
ASIDE_MM, ABOVE_MM, BELOW_MM = 300.0, 270.0, 430.0  # of the eyes: what of a photograph is kept
SURE, SURELY_NOT = 0.85, 0.12  # likelihoods of being the person
CUT_ROUNDS = 3
SHOULDERS_MM, HALF_BREADTH_MM = 150.0, 190.0  # below the eyes; from there on the person may be wide
BAND_MM = 6.0  # to each side of the cut: where a pixel may be partly the person's
HAIR_BAND_MM = 12.0
LEAST_ALPHA = 0.09  # less is the background's own unevenness
EDGE_MM = 0.5  # how soft an edge is that no colour tells
EDGE_SPREAD_MM = 5.0
UNLIKE = 0.08  # of full white: person and background must differ by more to be told by colour
SOLID, GAP_MM2 = (0.9, 0.6), 25.0  # a gap that such a share encloses, if no larger, is none
SMOOTH_MM, SMOOTH_BY = 1.5, 1e-4  # of the guided filter
# Below the photograph: over which its clothes lose their detail and become one colour, and how wide
# they are spread.
FADE_MM, PLAIN_MM, WIDE_MM, CLOSE_MM = 12.0, 55.0, 18.0, 6.0
# How shoulders fall, a length a length, where the photograph cuts them, the radius on which they
# fall steeper, and how far out they reach; what would be so near to bare skin wears grey, in sRGB.
# Design choices.
SHOULDERS_FALL, SHOULDERS_ROUND_MM, HALF_SHOULDERS_MM = 0.4, 60.0, 205.0
BARE_STOPS, GARMENT = 0.5, 88.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Plate:
    """A person cut out of a photograph, ``PX_PER_MM`` fine at the face or as fine as it is.

    ``rgb`` (H, W, 3), sRGB, holds the person's colours and goes on with them past their edge;
    ``alpha`` (H, W) is 255 times their share. ``origin_px`` is its corner in the full-size
    picture, ``px_per_px`` that picture's pixels to one of the plate's, ``photo`` its left, top,
    right and bottom edge in the plate: beyond them everything is added. ``beside_mm`` is how far
    the shoulders that were added have fallen outward where they meet its left and right edge.
    """

    rgb: Pixels
    alpha: Pixels
    origin_px: Floats
    px_per_px: float
    photo: tuple[int, int, int, int]
    beside_mm: tuple[float, float] = (0.0, 0.0)

    def at(self, full_px: Floats) -> Floats:
        """Places (N, 2) in the plate of places at full size."""
        return (full_px - self.origin_px) / self.px_per_px


@dataclass(frozen=True, slots=True, kw_only=True)
class Classes:
    """How likely each pixel of a coarse grid, ``COARSE`` plate pixels wide, shows hair or skin.

    Each (h, w); 0 beyond the part map.
    """

    hair: Singles
    skin: Singles
    ear: Singles

    def at(self, which: Singles, places: Floats) -> Singles:
        """Values (N,) at places (N, 2) in the plate."""
        at = (places / COARSE - 0.5).astype(np.float32)
        found = cv2.remap(which, at[:, :1], at[:, 1:], cv2.INTER_LINEAR)
        return np.asarray(found[:, 0], dtype=np.float32)


def cut_out(
    frame: FrameReading, eyes_px: Floats, px_per_mm: float, head_px: Floats
) -> tuple[Plate, Classes]:
    """The person of a frame whose eyes lie at ``eyes_px`` (2,), ``px_per_mm`` large.

    ``head_px`` (N, 2) are places of the fitted head, all in full-size pixels. PhotoError where the
    photograph can't be opened.
    """
    if frame.path is None or frame.size_px is None or frame.face is None:
        raise ValueError("only frames with a face come here")
    rgb, origin, scale = _piece(frame, eyes_px, px_per_mm)
    features = see_features(rgb, (frame.face.landmarks_px - origin) / scale)
    small = (rgb.shape[1] // COARSE, rgb.shape[0] // COARSE)
    parts, inside = _on_grid(features.parts, small)
    coarse = np.asarray(cv2.resize(rgb, small, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    eyes, head = ((each - origin) / scale / COARSE for each in (eyes_px, head_px))
    mm = scale * COARSE / px_per_mm
    person = _cut(coarse, parts, inside, eyes, head, mm)
    hair = parts[Part.HAIR] + parts[Part.HAT]
    alpha, colours = _matte(rgb, person, hair, scale / px_per_mm)
    plate = _with_more_below(
        Plate(
            rgb=colours,
            alpha=alpha,
            origin_px=origin,
            px_per_px=scale,
            photo=(0, 0, rgb.shape[1], rgb.shape[0]),
        ),
        frame,
        eyes_px,
        px_per_mm,
        _usual(coarse.reshape(-1, 3), 255.0 * parts[Part.SKIN].ravel()),
    )
    skin = parts[Part.SKIN] + parts[Part.EAR] + parts[Part.BEARD]
    return plate, Classes(hair=hair, skin=skin, ear=parts[Part.EAR])


def _piece(frame: FrameReading, eyes_px: Floats, px_per_mm: float) -> tuple[Pixels, Floats, float]:
    """The photograph around the head, its corner at full size, and full-size pixels to one."""
    assert_path, size = frame.path, frame.size_px
    if assert_path is None or size is None:
        raise ValueError("only frames with a photograph come here")
    wanted = round(max(size) * min(1.0, PX_PER_MM / px_per_mm))
    photo = open_photo(assert_path, largest_side_px=max(wanted, 64))
    scale = photo.px_per_rgb_px
    reach = np.array([ASIDE_MM, ABOVE_MM, ASIDE_MM, BELOW_MM]) * px_per_mm
    low = np.clip((eyes_px - reach[:2]) / scale, 0, None).astype(int)
    high = np.ceil((eyes_px + reach[2:]) / scale).astype(int)
    piece = np.ascontiguousarray(photo.rgb[low[1] : high[1], low[0] : high[0]])
    finer = px_per_mm / scale / PX_PER_MM
    if finer > 1.15:
        height, width = piece.shape[:2]
        size_px = (round(width / finer), round(height / finer))
        piece = np.asarray(cv2.resize(piece, size_px, interpolation=cv2.INTER_AREA))
        return piece, low * scale, scale * width / size_px[0]
    return piece, low * scale, scale


def _on_grid(seen: PartsSeen, size: tuple[int, int]) -> tuple[Singles, Flags]:
    """The parts' shares (parts, h, w) on the coarse grid, and where the part map reaches (h, w)."""
    x, y = np.meshgrid(np.arange(size[0]), np.arange(size[1]))
    places = (np.stack([x, y], axis=-1).reshape(-1, 2) + 0.5) * COARSE
    cells = (
        seen.crop.from_picture(places.astype(np.float64))
        .reshape(size[1], size[0], 2)
        .astype(np.float32)
        - 0.5
    )
    count = seen.shares.shape[1]
    inside = ((cells > 0.0) & (cells < count - 1.0)).all(axis=2)
    shares = np.stack(
        [
            cv2.remap(np.ascontiguousarray(share), cells[..., 0], cells[..., 1], cv2.INTER_LINEAR)
            for share in seen.shares
        ]
    )
    return np.asarray(shares * inside, dtype=np.float32), inside


def _cut(
    coarse: Pixels, parts: Singles, inside: Flags, eyes: Floats, head: Floats, mm: float
) -> Flags:
    """Which coarse pixels (h, w) show the person; ``mm`` is a pixel's width at the face."""
    height, width = inside.shape
    likely = np.where(inside, 1.0 - parts[Part.BACKGROUND], 0.0)
    x, y = np.meshgrid(np.arange(width) + 0.5, np.arange(height) + 0.5)
    below = (y - eyes[1]) * mm
    wide = np.abs(x - eyes[0]) * mm
    mask = np.full((height, width), cv2.GC_PR_BGD, dtype=np.uint8)
    mask[~inside & (below > SHOULDERS_MM) & (wide < HALF_BREADTH_MM)] = cv2.GC_PR_FGD
    mask[inside & (likely > 0.5)] = cv2.GC_PR_FGD
    mask[inside & (likely > SURE)] = cv2.GC_FGD
    mask[inside & (likely < SURELY_NOT)] = cv2.GC_BGD
    hull = cv2.convexHull(np.round(head).astype(np.int32))
    skull = cv2.fillConvexPoly(np.zeros((height, width), dtype=np.uint8), hull, 1)
    skull = binary_erosion(skull > 0, iterations=max(1, round(12.0 / mm)))
    mask[skull & (likely > 0.3)] = cv2.GC_FGD
    if (mask == cv2.GC_BGD).any() or (mask == cv2.GC_PR_BGD).any():
        cv2.setRNGSeed(1)
        models = np.zeros((1, 65)), np.zeros((1, 65))
        whole = (0, 0, width, height)  # not used: the mask says it
        cv2.grabCut(coarse, mask, whole, *models, CUT_ROUNDS, cv2.GC_INIT_WITH_MASK)
    person = (mask == cv2.GC_FGD) | (mask == cv2.GC_PR_FGD)
    opened = cv2.morphologyEx(person.astype(np.uint8), cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    pieces, _ = label(opened | skull)
    own = pieces[min(int(eyes[1]), height - 1), min(int(eyes[0]), width - 1)]
    near = cv2.dilate((pieces == own).astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    return np.asarray(person & near)


def _matte(rgb: Pixels, person: Flags, hair: Singles, mm: float) -> tuple[Pixels, Pixels]:
    """Alpha (H, W) and the person's own colours (H, W, 3); ``mm`` is a pixel's width."""
    size = (rgb.shape[1], rgb.shape[0])
    sigma = 0.5 * COARSE
    soft = cv2.resize(person.astype(np.float32), size, interpolation=cv2.INTER_LINEAR)
    soft = cv2.GaussianBlur(soft, (0, 0), sigma)
    inner = _away(soft > 0.5) * mm
    outer = _away(soft <= 0.5) * mm
    hairy = cv2.GaussianBlur(cv2.resize(hair, size), (0, 0), 6.0 / mm)
    band = BAND_MM + (HAIR_BAND_MM - BAND_MM) * np.clip(2.0 * hairy, 0.0, 1.0)
    light = rgb.astype(np.float32) / 255.0
    own = spread(light, (inner > 0.6 * band).astype(np.float32), EDGE_SPREAD_MM / mm)
    behind = spread(light, (outer > band).astype(np.float32), EDGE_SPREAD_MM / mm)
    way = own - behind
    length = (way**2).sum(axis=2)
    told = np.clip(((light - behind) * way).sum(axis=2) / np.maximum(length, 1e-6), 0.0, 1.0)
    trust = length / (length + UNLIKE**2)
    near = 1.0 / (1.0 + np.exp(np.clip((outer - inner) / EDGE_MM, -30.0, 30.0)))
    alpha = trust * told + (1.0 - trust) * near
    alpha = np.where(inner > 0.6 * band, 1.0, np.where(outer > band, 0.0, alpha)).astype(np.float32)
    radius = max(1, round(SMOOTH_MM / mm))
    alpha = guided(alpha, light.mean(axis=2), radius, SMOOTH_BY)
    alpha = np.clip((alpha - LEAST_ALPHA) / (1.0 - 2.0 * LEAST_ALPHA), 0.0, 1.0)
    for share in SOLID:
        alpha[_gaps(alpha > share, GAP_MM2 / mm**2)] = 1.0
    pure = np.clip((alpha - 0.9) / 0.08, 0.0, 1.0)[..., None]
    colours = pure * light + (1.0 - pure) * spread(light, (alpha > 0.97) * alpha, 2.0 / mm)
    return (
        np.round(255.0 * alpha).astype(np.uint8),
        np.round(255.0 * np.clip(colours, 0.0, 1.0)).astype(np.uint8),
    )


def _gaps(solid: Flags, most_px: float) -> Flags:
    """What the solid part of a matte encloses, where that is small: colour misled, not a gap."""
    pieces, _ = label(binary_fill_holes(solid) & ~solid)
    sizes = np.bincount(pieces.ravel())
    return np.asarray((sizes[pieces] <= most_px) & (pieces > 0))


def _away(inside: Flags) -> Singles:
    """How far each pixel that is inside lies from what is not, 0 for those that are not."""
    return np.asarray(cv2.distanceTransform(inside.astype(np.uint8), cv2.DIST_L2, 5))


def _with_more_below(
    plate: Plate, frame: FrameReading, eyes_px: Floats, px_per_mm: float, skin: Floats
) -> Plate:
    """The plate with the clothes going on plainly below where the photograph cuts them.

    Their colours pass into the most usual one. Cut above the shoulders, outlines fall as those do;
    where that is of the hue of ``skin`` (3,), in sRGB, a plain grey garment is made up.
    """
    if frame.size_px is None:
        raise ValueError("only frames with a photograph come here")
    mm = plate.px_per_px / px_per_mm
    height = len(plate.alpha)
    alpha = plate.alpha.astype(np.float32)
    end_mm = (plate.origin_px[1] + height * plate.px_per_px - eyes_px[1]) / px_per_mm
    rows = max(0, round((BELOW_MM - end_mm) / mm))
    rgb, beside_mm = plate.rgb, (0.0, 0.0)
    if rows:
        gone_mm = np.arange(1, rows + 1) * mm
        last = cv2.GaussianBlur(alpha[-1:], (0, 0), CLOSE_MM / mm)
        soft = np.asarray(cv2.GaussianBlur(rgb[-1:], (0, 0), WIDE_MM / mm)).astype(np.float32)
        plain = _usual(rgb[-1], last[0])
        if np.abs(_hue(plain) - _hue(skin)).max() < BARE_STOPS:
            plain = np.full(3, GARMENT)
        share, wholly = (
            np.clip(gone_mm / fade_mm, 0.0, 1.0)[:, None, None] for fade_mm in (FADE_MM, PLAIN_MM)
        )
        below = rgb[-1:] * (1.0 - share) + (soft + wholly * (plain - soft)) * share
        rgb = np.concatenate([rgb, np.round(below).astype(np.uint8)])
        sides = _sides(last[0])
        beside_mm = mm * sides[0], mm * (len(last[0]) - 1 - sides[1])
        alpha = np.concatenate([alpha, np.maximum(last, _shoulders(last[0], sides, gone_mm, mm))])
    return Plate(
        rgb=np.asarray(rgb),
        alpha=np.round(alpha).astype(np.uint8),
        origin_px=plate.origin_px,
        px_per_px=plate.px_per_px,
        photo=plate.photo,
        beside_mm=beside_mm,
    )


def _sides(row: Singles) -> tuple[int, int]:
    """The person's first and last pixel in a row of alpha (W,); the whole row where it has none."""
    at = np.flatnonzero(row >= 128.0)
    return (int(at[0]), int(at[-1])) if len(at) else (0, len(row) - 1)


def _usual(colours: Pixels, alpha: Singles) -> Floats:
    """The median (3,) of colours (N, 3) that count by ``alpha`` (N,)."""
    own = colours[alpha >= 128.0]
    return np.median(own if len(own) else colours, axis=0)


def _hue(colour: Floats) -> Floats:
    """Red and blue against green (2,), in stops."""
    red, green, blue = np.log2(np.maximum(linear_from_srgb(colour.astype(np.uint8)), 1e-3))
    return np.array([red - green, blue - green])


def _shoulders(last: Singles, sides: tuple[int, int], gone_mm: Floats, mm: float) -> Singles:
    """Alpha (R, W) of shoulders that fall from the sides of the last row (W,), so far below it."""
    first, end = sides
    lacks_mm = max(0.0, HALF_SHOULDERS_MM - 0.5 * mm * (end - first))
    reach_mm = np.minimum(shoulders_reach_mm(gone_mm), lacks_mm)
    columns = np.arange(len(last))
    off_mm = mm * np.maximum(np.maximum(first - columns, columns - end), 0)
    alpha = 255.0 * np.clip((reach_mm[:, None] - off_mm) / EDGE_MM, 0.0, 1.0)
    return np.asarray(alpha, dtype=np.float32)


def shoulders_reach_mm(fallen_mm: Floats) -> Floats:
    """How far out shoulders reach where they have fallen so far: ever steeper."""
    round_mm, fall = SHOULDERS_ROUND_MM, SHOULDERS_FALL
    return np.asarray(round_mm * (np.sqrt(fall**2 + 2.0 * fallen_mm / round_mm) - fall))


def shoulders_fall_mm(out_mm: Floats) -> Floats:
    """How far shoulders have fallen where they reach so far out."""
    return np.asarray(out_mm * (SHOULDERS_FALL + out_mm / (2.0 * SHOULDERS_ROUND_MM)))
