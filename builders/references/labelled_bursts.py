"""Bursts of invented heads with a label: which frames are right, and where eyes are closed.

Every frame is a rendered picture of a head that belongs to nobody, with the small differences that
frames of one burst have (a sway of the head, the lids' play, grain), and most with one known fault:
closed, half-closed or winking eyes, a soft focus, a gaze that leaves the lens, burnt skin, or a
turn that leaves the plan. Real skin, hair and lenses are harder.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageFilter

from builders.pictures.plain_frames import photographed
from sitwell.head.surface import Head, build_head
from sitwell.head.template import load_template
from sitwell.scene.preview import Sculpture
from sitwell.scene.setup import Setup

HEIGHT_PX = 720
FOCAL_MM = 85.0
TYPICAL = 0.6  # of a head's usual spread: people, not caricatures
SWAY_DEG = 0.8
DRIFT_DEG = 11.0
BURNING = 1.75  # of the coded value, nearly two stops
BURST_GAP_S = 20
CLOSING = ("blink", "half-blink", "wink")
SOFT = ("soft", "a-little-soft")
FAULTS = (*CLOSING, *SOFT, "away", "burnt")

Pixels = NDArray[np.uint8]


@dataclass(frozen=True, slots=True, kw_only=True)
class Take:
    """One person in one frame: how they are turned, their lids (own left, right), and faults."""

    turn_deg: float
    lids: tuple[float, float]
    faults: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """What is known of one burst: its right frames, those with closed eyes, and the faults.

    Right are the frames without a fault, or else those with open eyes in focus; none where every
    eye is closed. ``best_for`` names, by where they stand, each person's own right frames of a
    couple for which no frame serves both.
    """

    files: tuple[str, ...]
    right: frozenset[str]
    closed: frozenset[str]
    faults: Mapping[str, frozenset[str]]
    best_for: Mapping[str, frozenset[str]] = field(default_factory=dict)


class Sitter:
    """One invented head, and the pictures of it."""

    def __init__(self, rng: np.random.Generator, plan_turn_deg: float | None = None) -> None:
        names, sigma = load_template().shape_names, load_template().shape_sigma
        values = TYPICAL * sigma * rng.normal(size=len(sigma))
        self.shape = dict(zip(names, values.tolist(), strict=True))
        self.plan_turn_deg = plan_turn_deg
        self._sculpture = cache(lambda lids: Sculpture(self.head(lids)))

    def head(self, lids: tuple[float, float] = (0.0, 0.0)) -> Head:
        """The head with its lids so far closed."""
        names = ("eye_blink_own_left", "eye_blink_own_right")
        return build_head(self.shape, dict(zip(names, lids, strict=True)))

    def setup(self, take: Take, key_azimuth_deg: float) -> Setup:
        """The set-up in which a take is rendered."""
        return Setup(
            turn_deg=take.turn_deg,
            focal_mm=FOCAL_MM,
            distance_mm=1500.0,
            framing="tight-head",
            aspect="2:3",
            key_azimuth_deg=key_azimuth_deg,
            gaze="ahead" if "away" in take.faults else "lens",
        )

    def picture(self, take: Take, key_azimuth_deg: float) -> Image.Image:
        """One take, with its fault of focus."""
        setup = self.setup(take, key_azimuth_deg)
        picture = Image.fromarray(photographed(self._sculpture(take.lids), setup, HEIGHT_PX).rgb)
        radius = {"soft": 2.0, "a-little-soft": 0.7}
        for fault in take.faults & radius.keys():
            picture = picture.filter(ImageFilter.GaussianBlur(radius[fault]))
        return picture


def make_sitting(folder: Path, seed: int, bursts: int, people: int = 1) -> list[Label]:
    """Frames of one sitting and their labels; every second lone sitter has a plan to keep."""
    rng = np.random.default_rng(seed)
    folder.mkdir(parents=True)
    sitters = planned_sitters(seed, people)
    return [_burst(folder, rng, sitters, number) for number in range(bursts)]


def planned_sitters(seed: int, people: int = 1) -> list[Sitter]:
    """The sitters of ``make_sitting`` with that seed."""
    rng = np.random.default_rng(seed + 1_000_000)
    planned = 25.0 * rng.choice((-1.0, 1.0)) if people == 1 and seed % 2 else None
    return [Sitter(rng, planned) for _ in range(people)]


def _burst(folder: Path, rng: np.random.Generator, sitters: list[Sitter], number: int) -> Label:
    frames = int(rng.integers(3, 7))
    turns = [s.plan_turn_deg or float(rng.uniform(-28.0, 28.0)) for s in sitters]
    key_azimuth_deg = float(rng.choice((-1.0, 1.0)) * rng.uniform(20.0, 50.0))
    faults = [_faults(rng, frames, turn, s) for turn, s in zip(turns, sitters, strict=True)]
    files, shown = [], {}
    for index in range(frames):
        takes = [_take(rng, turn, fault[index]) for turn, fault in zip(turns, faults, strict=True)]
        picture = _side_by_side(
            [s.picture(t, key_azimuth_deg) for s, t in zip(sitters, takes, strict=True)]
        )
        if any("burnt" in take.faults for take in takes):
            picture = picture.point(lambda value: min(255, round(BURNING * value)))
        name = f"D_{10 * number + index + 1:04d}.jpg"
        _save(folder / name, picture, rng, number, index)
        files.append(name)
        shown[name] = takes
    return _label(files, shown, len(sitters))


def _faults(
    rng: np.random.Generator, frames: int, turn_deg: float, sitter: Sitter
) -> list[frozenset[str]]:
    """One fault for each frame, and none for one or two of them; now and then all eyes close."""
    kinds = [f for f in FAULTS if f != "away" or abs(turn_deg) > 20.0]
    kinds += ["drift"] if sitter.plan_turn_deg else []
    if rng.random() < 0.06:
        return [frozenset({"blink"})] * frames
    chosen = [frozenset({str(rng.choice(kinds))}) for _ in range(frames)]
    for place in rng.choice(frames, size=int(rng.integers(1, 3)), replace=False):
        chosen[place] = frozenset()
    return chosen


def _take(rng: np.random.Generator, turn_deg: float, faults: frozenset[str]) -> Take:
    play = [round(float(v), 2) for v in rng.choice((0.0, 0.04, 0.08), size=2)]
    closed = {"blink": (0.8, 0.9, 1.0), "half-blink": (0.45, 0.55, 0.65)}
    for fault in faults & closed.keys():
        play = [float(rng.choice(closed[fault]))] * 2
    if "wink" in faults:
        play[int(rng.integers(2))] = 0.9
    sway = float(rng.normal()) * SWAY_DEG
    drift = DRIFT_DEG * float(rng.choice((-1.0, 1.0))) if "drift" in faults else 0.0
    return Take(turn_deg=turn_deg + sway + drift, lids=(play[0], play[1]), faults=faults)


def _label(files: list[str], shown: dict[str, list[Take]], people: int) -> Label:
    faults = {f: frozenset().union(*(take.faults for take in shown[f])) for f in files}
    serves = [f for f in files if not faults[f] & {*CLOSING, *SOFT}]
    flawless = [f for f in serves if not faults[f]]
    best_for = {}
    if people > 1 and not serves:
        for index, position in enumerate(("camera left", "camera right")):
            own = {f: shown[f][index].faults - {"burnt", "away"} for f in files}
            best_for[position] = frozenset(f for f in files if not own[f])
    return Label(
        files=tuple(files),
        right=frozenset(flawless or serves),
        closed=frozenset(f for f in files if any(t.faults & set(CLOSING) for t in shown[f])),
        faults=faults,
        best_for=best_for,
    )


def _side_by_side(pictures: list[Image.Image]) -> Image.Image:
    wide = Image.new("RGB", (sum(p.width for p in pictures), pictures[0].height))
    left = 0
    for picture in pictures:
        wide.paste(picture, (left, 0))
        left += picture.width
    return wide


def _save(
    path: Path, picture: Image.Image, rng: np.random.Generator, number: int, index: int
) -> None:
    grain = rng.normal(scale=2.0, size=(picture.height, picture.width, 1))
    rgb = np.clip(np.asarray(picture) + grain, 0, 255).astype(np.uint8)
    taken = datetime(2026, 1, 1, 10) + timedelta(seconds=BURST_GAP_S * number)
    exif = Image.Exif()
    exif.get_ifd(0x8769).update(
        {
            36867: taken.strftime("%Y:%m:%d %H:%M:%S"),
            37521: f"{index}",
            37386: FOCAL_MM,
            41989: round(FOCAL_MM),
        }
    )
    Image.fromarray(rgb).save(path, "JPEG", quality=92, exif=exif)
