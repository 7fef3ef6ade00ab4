"""Whether frames show one head: what each tells of the shape, as one head's and as two's."""

from collections.abc import Sequence

import numpy as np

from sitwell.head.problem import Known, solve

# Log odds below which frames are asked about; benchmarks/same_face.py says how often that is right.
DOUBTFUL = -2.0


def unlike_frames(alone: Sequence[Known]) -> tuple[int, ...]:
    """Places of frames whose face is unlike the others'; none where they may well be one sitter's.

    ``alone`` is what each frame tells by itself. Of three frames or more the one that stands
    out most, of two both: neither is the right one.
    """
    if len(alone) < 2:
        return ()
    odds = [log_odds(one, [k for k in alone if k is not one]) for one in alone]
    if min(odds) > DOUBTFUL:
        return ()
    return (int(np.argmin(odds)),) if len(alone) > 2 else (0, 1)


def log_odds(one: Known, others: Sequence[Known]) -> float:
    """Log odds that a frame shows the head of the others, against another head of the same kind.

    Heads are drawn from the shape's prior, and each frame tells of its own with a normal
    likelihood, so both evidences have closed forms (Bayes factor; any text on it).
    """
    return _evidence([one, *others]) - _evidence([one]) - _evidence(others)


def _evidence(frames: Sequence[Known]) -> float:
    """Log evidence of frames of one head, but for what each frame adds by itself."""
    pull = np.sum([known.tightness @ known.values for known in frames], axis=0)
    # each tightness holds the prior's once, and all together may hold it once only
    tightness = np.sum([known.tightness for known in frames], axis=0)
    tightness -= (len(frames) - 1) * np.eye(len(pull))
    return float(pull @ solve(tightness, pull) - np.linalg.slogdet(tightness)[1]) / 2.0
