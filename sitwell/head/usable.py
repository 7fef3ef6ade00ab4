"""Which frames of a sitter to leave out of the fit of the head, and why, in a few words."""

from collections.abc import Mapping, Sequence

import numpy as np

from sitwell.base.words import mark

# The landmarker's guess at a blink beyond which lids say nothing of how the eyes usually stand.
BLINK = 0.45
# A frame is blurred that shows so little detail at the eye (face/lids.py), and so much less than
# the sitter's sharpest: neither alone throws a good frame out. On 38 photographs of people and 24
# renders sharp eyes had 0.25 to 0.55, and blurred by 2 mm 0.04 to 0.12.
_BLURRED, _LESS_SHARP = 0.12, 0.5
# The misfit of one frame over the median frame's, and over what invented heads leave.
_STRAINED, _STRAIN = 1.8, 1.8
CLOSED = mark("the eyes are closed or half closed")
BLURRED = mark("it is blurred at the eyes")
UNLIKE = mark("the face doesn't fit the other frames; it may be another's, or partly covered")


def why_left_out(
    blendshapes: Sequence[Mapping[str, float]],
    sharpness: Sequence[float],
    strains: Sequence[float] | None = None,
) -> list[str | None]:
    """A reason for each frame that should not shape the head, None for one that may.

    ``sharpness`` is each frame's ``eye_detail``; ``strains`` are misfits of each frame by itself.
    Where no frame would be left, all may.
    """
    reasons = [
        (CLOSED if is_closed(shapes) else None) or _blurred(sharp, max(sharpness))
        for shapes, sharp in zip(blendshapes, sharpness, strict=True)
    ]
    if strains is not None:
        usual = float(np.median(strains))
        for index, strain in enumerate(strains):
            if reasons[index] is None and strain > max(_STRAIN, _STRAINED * usual):
                reasons[index] = UNLIKE
    return reasons if None in reasons else [None] * len(reasons)


def is_closed(shapes: Mapping[str, float]) -> bool:
    """Whether either eye is closed too far for its lids to say how they usually stand."""
    return max(shapes.get(f"eyeBlink{side}", 0.0) for side in ("Left", "Right")) > BLINK


def _blurred(sharp: float, sharpest: float) -> str | None:
    return BLURRED if sharp < min(_BLURRED, _LESS_SHARP * sharpest) else None
