"""The focal length of a photograph in pixels, from the best source there is.

A 35 mm equivalent compares diagonals (CIPA DCG-001): focal over sensor diagonal is the
same as equivalent over 43.27 mm, so pixels come from the picture's own diagonal.
"""

import math
from dataclasses import dataclass

from sitwell.base.errors import UsageError
from sitwell.base.words import mark, tr
from sitwell.brief.exif import FOCAL_RANGE_MM, SENSOR_RANGE_MM, ExifFacts

FULL_FRAME_DIAGONAL_MM = math.hypot(36.0, 24.0)
DEFAULT_FOCAL_35_MM = 70.0
# One-sigma shares: EXIF rounds and lenses breathe; half the cameras have a smaller sensor than
# full frame; a guess from nothing covers 42 to 115 mm, as portraits are mostly taken.
_SPREAD = {
    "given": 0.02,
    "exif-and-sensor": 0.03,
    "exif-35mm": 0.03,
    "exif-full-frame": 0.3,
    "default": 0.5,
}
_CROPPED_SPREAD = 0.1
_SHORTEST_FULL_FRAME_MM = 14.0
_SOURCE_NOTES = {
    "exif-full-frame": mark(
        "The sensor's size is not known; a 36 x 24 mm sensor was assumed and corrected by how the "
        "face is drawn, so the distance is a guess."
    ),
    "default": mark(
        "No focal length is known; the usual one for portraits was assumed and corrected by how "
        "the face is drawn, so the distance is a guess."
    ),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Focal:
    """A photograph's focal length.

    ``px`` counts pixels of the upright full-size picture for a lens focused at infinity;
    ``lens_mm`` is the lens's actual focal length and None where unknown; ``equivalent_mm`` is the
    35 mm equivalent by diagonal; ``spread`` is one sigma as a share of the value; ``source`` is
    one of given, exif-and-sensor, exif-35mm, exif-full-frame (sensor assumed 36 x 24 mm),
    default.
    """

    px: float
    lens_mm: float | None
    equivalent_mm: float
    spread: float
    source: str
    notes: tuple[str, ...] = ()

    @property
    def focal_mm(self) -> float:
        """The number to print: the lens's own focal length, or the equivalent without it."""
        return self.lens_mm if self.lens_mm is not None else self.equivalent_mm

    def spread_at(self, distance_mm: float) -> float:
        """One sigma of the image distance at ``distance_mm``, as a share of it.

        Many lenses shorten as they focus near, so half of what a thin lens gains there is unsure.
        """
        return math.hypot(self.spread, 0.5 * (self.px_at(distance_mm) / self.px - 1.0))

    def px_at(self, distance_mm: float) -> float:
        """Image distance in pixels of a thin lens focused at ``distance_mm``: f s / (s - f).

        Without the lens's own focal length the lens counts as focused at infinity.
        """
        if self.lens_mm is None or distance_mm <= 2.0 * self.lens_mm:
            return self.px
        return self.px * distance_mm / (distance_mm - self.lens_mm)


def equivalent_from_sensor(focal_mm: float, sensor_diagonal_mm: float) -> float:
    """35 mm-equivalent focal length in mm, by equal diagonal angle of view."""
    return focal_mm * FULL_FRAME_DIAGONAL_MM / sensor_diagonal_mm


def find_focal(
    facts: ExifFacts,
    width_px: int,
    height_px: int,
    *,
    focal_35_mm: float | None = None,
    sensor_diagonal_mm: float | None = None,
) -> Focal:
    """The focal length of a picture ``width_px`` x ``height_px``, and where it came from.

    ``focal_35_mm`` given by the photographer beats everything; ``sensor_diagonal_mm`` of their
    camera beats the focal-plane tags.
    """
    _refuse_nonsense(focal_35_mm, FOCAL_RANGE_MM, "35 mm-equivalent focal length")
    _refuse_nonsense(sensor_diagonal_mm, SENSOR_RANGE_MM, "sensor diagonal")
    diagonal_px, crop_note = _uncropped_diagonal_px(facts, width_px, height_px)
    equivalent, source = _equivalent(facts, focal_35_mm, sensor_diagonal_mm)
    return Focal(
        px=equivalent / FULL_FRAME_DIAGONAL_MM * diagonal_px,
        lens_mm=facts.focal_mm,
        equivalent_mm=equivalent,
        spread=math.hypot(_SPREAD[source], _CROPPED_SPREAD if crop_note else 0.0),
        source=source,
        notes=tuple(note for note in (crop_note, _source_note(source)) if note),
    )


def _source_note(source: str) -> str:
    if source not in _SOURCE_NOTES:
        return ""
    return tr(_SOURCE_NOTES[source])


def _refuse_nonsense(value: float | None, allowed: tuple[float, float], name: str) -> None:
    if value is not None and not allowed[0] <= value <= allowed[1]:
        raise UsageError(
            tr(
                "A {name} of {value} mm can't be; give one from {low} to {high} mm.",
                name=name,
                value=f"{value:g}",
                low=f"{allowed[0]:g}",
                high=f"{allowed[1]:g}",
            )
        )


def _equivalent(
    facts: ExifFacts, given_35_mm: float | None, given_diagonal_mm: float | None
) -> tuple[float, str]:
    if given_35_mm is not None:
        return given_35_mm, "given"
    if facts.focal_mm is not None and given_diagonal_mm is not None:
        return equivalent_from_sensor(facts.focal_mm, given_diagonal_mm), "exif-and-sensor"
    if facts.focal_35_mm is not None:
        return facts.focal_35_mm, "exif-35mm"
    if facts.focal_mm is not None and facts.sensor_diagonal_mm is not None:
        return equivalent_from_sensor(facts.focal_mm, facts.sensor_diagonal_mm), "exif-and-sensor"
    if facts.focal_mm is not None and facts.focal_mm >= _SHORTEST_FULL_FRAME_MM:
        return facts.focal_mm, "exif-full-frame"
    return DEFAULT_FOCAL_35_MM, "default"


def _uncropped_diagonal_px(facts: ExifFacts, width_px: int, height_px: int) -> tuple[float, str]:
    """Diagonal of the whole exposure in this picture's pixels, and a note where it was cropped."""
    diagonal_px = math.hypot(width_px, height_px)
    if not facts.pixels_wide or not facts.pixels_high:
        return diagonal_px, ""
    recorded = sorted((facts.pixels_wide, facts.pixels_high))
    here = sorted((width_px, height_px))
    shape_changed = abs(recorded[1] / recorded[0] - here[1] / here[0]) > 0.02
    if not shape_changed or here[1] > recorded[1] or here[0] > recorded[0]:
        return diagonal_px, ""
    return math.hypot(*recorded), tr(
        "The picture is {width} x {height} pixels but the camera recorded {wide} x {high}; it was "
        "taken as cropped, not resized.",
        width=width_px,
        height=height_px,
        wide=facts.pixels_wide,
        high=facts.pixels_high,
    )
