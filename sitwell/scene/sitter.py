"""A sitter as read: their head with its own zero, from frames, a scan or what was kept of it."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from sitwell.base.errors import UsageError
from sitwell.base.words import tr
from sitwell.brief.marks import Marks, marks_from_dict, read_marks
from sitwell.brief.request import SitterBrief
from sitwell.head.hairline import UNMARKED_SPREAD_MM
from sitwell.head.level import head_as_dict, head_from_dict, level_head
from sitwell.head.reading import Reading, read_photos
from sitwell.head.report import unknown_sizes
from sitwell.head.surface import SIDES, Head, head_from_values
from sitwell.head.template import load_template


@dataclass(frozen=True, slots=True, kw_only=True)
class Sitter:
    """A sitter as read: the reading, their head with their own zero, and what rebuilds it.

    ``found`` and ``kept`` are None and empty where no face was read. ``brief`` is what was asked.
    """

    reading: Reading
    found: Head | None
    kept: Mapping[str, Any]
    brief: SitterBrief | None = None

    @property
    def head(self) -> Head:
        """The head; FaceError with the reason where no face was read."""
        return self.found or self.reading.require_head()


# A wish is about something unseen where none of these lengths could be told.
_TOLD_BY: Mapping[str, tuple[str, ...]] = {
    "ears": tuple(f"ear_length_{side}_mm" for side in SIDES),
    "eye-balance": ("eye_opening_ratio",),
    "eye-size": tuple(f"eye_opening_{side}_mm" for side in SIDES),
}
_BY_HAIRLINE = ("forehead", "thinning-hair")
_HEADS_SEED = 7
# As the lengths' spreads are, so that nine in ten invented heads lie within what they say.
_WIDENED = 1.2


def unseen_features(reading: Reading) -> frozenset[str]:
    """Features that no frame shows, so that nothing about them may be promised."""
    fit, unknown = reading.fit, unknown_sizes(reading)
    if fit is None:
        return frozenset()
    hidden = {name for name, sizes in _TOLD_BY.items() if unknown.issuperset(sizes)}
    bare = fit.hairline_spread_mm < UNMARKED_SPREAD_MM
    return frozenset(hidden) | (frozenset() if bare else frozenset(_BY_HAIRLINE))


def possible_heads(reading: Reading, count: int) -> tuple[Head, ...]:
    """Heads that the frames leave possible, as far from the fitted one as it is unsure.

    Draws from the fit's covariance and the hairline's spread, each with its opposite, so that their
    mean is the fitted head; none without a fit. The same frames give the same heads.
    """
    fit = reading.fit
    if fit is None:
        return ()
    neutral = next(frame.neutral for frame in reading.frames if frame.fitted is not None)
    rng = np.random.default_rng(_HEADS_SEED)
    strength, axes = np.linalg.eigh(fit.shape_covariance)
    heads = []
    for _ in range((count + 1) // 2):
        step = axes @ (rng.normal(size=strength.size) * np.sqrt(np.clip(strength, 0.0, None)))
        rise_mm = float(rng.normal()) * fit.hairline_spread_mm
        for sign in (_WIDENED, -_WIDENED):
            shape = (fit.head.shape + sign * step).astype(np.float32)
            hairline_mm = fit.head.hairline_mm + sign * rise_mm
            head = head_from_values(load_template(), shape, fit.head.expression, hairline_mm)
            heads.append(level_head(head, neutral))
    return tuple(heads[:count])


def read_sitter(brief: SitterBrief) -> Sitter:
    """The sitter of a brief, from frames or a scan; UsageError without either."""
    if bool(brief.frames) == (brief.scan is not None):
        raise UsageError(
            tr(
                "Give one to three test frames, a scan with --scan, or --sitter for somebody "
                "whose head is in the records; one of the three."
            )
        )
    if brief.scan is not None:
        from sitwell.scene.scan import read_scan  # with the solvers, which frames need not

        scan = read_scan(brief.scan)
        kept = head_as_dict(scan.head, np.eye(3))  # the nearest parametric head
        reading = Reading(frames=(), fit=None, notes=scan.notes)
        return Sitter(reading=reading, found=scan.head, kept=kept, brief=brief)
    return sitter_of(read_frames(brief), brief)


def read_frames(brief: SitterBrief) -> Reading:
    """The frames of a brief read together."""
    return read_photos(
        brief.frames,
        marks=_marks(brief.marks),
        level=_place_of_level(brief),
        face=brief.face,
        faces=brief.faces,
        focal_35_mm=brief.focal_equivalent_mm,
        ipd_mm=brief.pupils_mm,
        in_the_way=brief.in_the_way,
        without=brief.without,
    )


def sitter_of(reading: Reading, brief: SitterBrief | None = None) -> Sitter:
    """The sitter of a reading."""
    if reading.fit is None:
        return Sitter(reading=reading, found=None, kept={}, brief=brief)
    neutral = next(frame.neutral for frame in reading.frames if frame.fitted is not None)
    head = reading.fit.head
    return Sitter(
        reading=reading,
        found=level_head(head, neutral),
        kept=head_as_dict(head, neutral),
        brief=brief,
    )


def sitter_kept(kept: Mapping[str, Any], brief: SitterBrief | None = None) -> Sitter:
    """The sitter of a head that was kept (``head_as_dict``)."""
    reading = Reading(frames=(), fit=None, notes=())
    return Sitter(reading=reading, found=head_from_dict(kept), kept=kept, brief=brief)


def _marks(given: Path | Mapping[str, Any] | None) -> Marks | None:
    if given is None:
        return None
    return read_marks(given) if isinstance(given, Path) else marks_from_dict(given)


def _place_of_level(brief: SitterBrief) -> int | None:
    if brief.level is None:
        return None
    names = [frame.name for frame in brief.frames]
    if brief.level.name not in names:
        raise UsageError(
            tr(
                "The level frame '{file}' is not among the photographs; name one of {known}.",
                file=brief.level.name,
                known=", ".join(names),
            )
        )
    return names.index(brief.level.name)
