"""What one frame shows of one sitter, and what it is held against; plain values, no judgement."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np

from sitwell.search.plan import PlannedSetup

SIDES = ("own_left", "own_right")
# An eye closes 34 % in plain downward gaze (Read 2006: 9.7 to 6.4 mm), which is no blink, so a
# half-blink begins below that, against the sitter's own usual opening.
HALF_BLINK = 0.60
# Of the skin: a face as burnt as this has edges that no lens drew, and so much sharper ones than
# the same face well exposed (1.1 to 1.4 times on rendered heads).
BURNT_THROUGH, BURNT_EDGES = 0.1, 1.25
# Enough frames to know how far a sitter's own eyes usually open.
LEAST_FRAMES_FOR_BASELINE = 3
USUAL_QUANTILE = 0.9


@dataclass(frozen=True, slots=True, kw_only=True)
class Sight:
    """One face in one frame; None, or a missing key, where it can't be told.

    ``moves`` are a set-up's quantities as the frame shows them (``turn_deg``...), ``spread`` one
    standard deviation of each. ``eye_open`` is the lids' gap over the eye's width by own side.
    ``gaze_deg`` is where the near eye looks, to camera right and up, from a zero of its own that
    differs by face. ``focus`` is the sharpness at ``near_eye``, ``far_eye``, ``ear`` and
    ``background``, in no unit: only ratios of it mean anything. ``lit_stops`` is the own-left
    cheek against the own-right one, ``ear_stops`` an ear against what is right behind it, both in
    stops.
    ``box`` is the face's left, top, right and bottom as shares of the picture's width and height.
    ``heights`` are along the face from chin (0) to brow (1), of the picture's edges ``top`` and
    ``bottom`` and of the sitter's ``hairline`` and ``crown``. ``skin_clipped`` and ``glare`` are
    shares of area.
    """

    faces: int
    position: str = ""
    moves: Mapping[str, float] = field(default_factory=dict)
    spread: Mapping[str, float] = field(default_factory=dict)
    measures: Mapping[str, float] = field(default_factory=dict)
    eye_open: Mapping[str, float] = field(default_factory=dict)
    near_eye: str = "own_left"
    gaze_deg: tuple[float, float] | None = None
    focus: Mapping[str, float] = field(default_factory=dict)
    lit_stops: float | None = None
    ear_stops: Mapping[str, float] = field(default_factory=dict)
    box: tuple[float, ...] = ()
    heights: Mapping[str, float] = field(default_factory=dict)
    skin_clipped: float | None = None
    glare: Mapping[str, float] = field(default_factory=dict)
    squint: float | None = None
    smile: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Baseline:
    """The sitter's own usual: how far each eye opens, where they look, squint and smile."""

    eye_open: Mapping[str, float]
    gaze_deg: tuple[float, float] | None = None
    squint: float | None = None
    smile: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """What a frame is held against; each part may be missing, and then nothing is said of it.

    ``focus_best`` is the sharpest that each place was in the same burst, because sharpness can be
    compared only between frames of one burst. ``glasses`` says that the sitter wears them.
    """

    planned: PlannedSetup | None = None
    baseline: Baseline | None = None
    focus_best: Mapping[str, float] = field(default_factory=dict)
    glasses: bool = False
    asked: tuple[str, ...] = ()

    @classmethod
    def of(cls, planned: PlannedSetup) -> "Expected":
        """What the plan alone tells of a set-up's frames."""
        return cls(planned=planned, asked=planned.asked, glasses=planned.wears_glasses)


def baseline_of(sights: Iterable[Sight]) -> Baseline | None:
    """The sitter's usual from their own frames; None where there are too few to tell.

    The upper tenth of the openings, so that blinks do not pull it down, even where most frames
    nearby are blinks; one reading errs by about a twentieth, so the tenth is hardly wider.
    """
    seen = [sight for sight in sights if sight.eye_open]
    if len(seen) < LEAST_FRAMES_FOR_BASELINE:
        return None
    openings = {
        side: [
            s.eye_open[side] for s in seen if side in s.eye_open and np.isfinite(s.eye_open[side])
        ]
        for side in SIDES
    }
    return Baseline(
        eye_open={side: float(np.quantile(v, USUAL_QUANTILE)) for side, v in openings.items() if v},
        gaze_deg=_usual_gaze(seen),
        squint=_median([s.squint for s in seen]),
        smile=_median([s.smile for s in seen]),
    )


def sharpest(sights: Iterable[Sight], baseline: Baseline | None = None) -> dict[str, float]:
    """The best focus of each place over the frames of one burst.

    An eye that is half closed against ``baseline`` does not count: lashes and folds are finer
    than an open eye, so that every open one would seem soft beside it. A burnt face counts for
    less, because what is burnt out has hard edges.
    """
    usual = baseline.eye_open if baseline else {}
    best: dict[str, float] = {}
    for sight in sights:
        far_eye = next(side for side in SIDES if side != sight.near_eye)
        eyes = {"near_eye": sight.near_eye, "far_eye": far_eye}
        burnt = (sight.skin_clipped or 0.0) >= BURNT_THROUGH
        for place, seen in sight.focus.items():
            side, value = eyes.get(place, ""), seen / BURNT_EDGES if burnt else seen
            if sight.eye_open.get(side, 1.0) >= HALF_BLINK * usual.get(side, 0.0):
                best[place] = max(value, best.get(place, value))
    return best


def _usual_gaze(seen: list[Sight]) -> tuple[float, float] | None:
    known = [sight.gaze_deg for sight in seen if sight.gaze_deg is not None]
    if not known:
        return None
    across, up = np.median(known, axis=0)
    return float(across), float(up)


def _median(values: list[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return float(np.median(known)) if known else None
