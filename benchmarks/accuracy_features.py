"""How well things in the way, bare ears and named points are seen in pictures kept from training.

Run from the repository: ``FACE_HEADS=second.npz FACE_PLACES=places.npz python -m
benchmarks.accuracy_features --pictures 300`` (``builders/learned/build_face_net.py`` says where the
two come from; without them one family alone is drawn). Prints counts and errors for each family and
skin tone; people are measured by ``accuracy_people.py``.
"""

import argparse
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from builders.pictures.picture import Picture, make_picture
from builders.pictures.scene import Given
from sitwell.face.crop import Crop
from sitwell.face.features import CROP_PX, JUDGED, MM_PER_PX, Features, read_crop
from sitwell.face.parts import Part
from sitwell.face.points import NAMES

RIGHT_MM, SURE_MM = 3.0, 3.0
TONES = (0.08, 0.25)  # mean linear reflectance between deep, middle and light skin
_SEED = 975_310  # none that a limit was set on
_POINTS = {
    "ears' tops, up": ("ear_top", 1),
    "ears' outer edges, across": ("ear_outer", 0),
    "ears' lobes, up": ("ear_lobe", 1),
    "ears' rims": ("ear_rim", 1),
    "nose's ridge, across": ("nose_ridge", 0),
    "nose's tip, across": ("nose_tip", 0),
    "nose's wings, across": ("nose_wing", 0),
    "eyes' corners, across": ("eye_", 0),
    "mouth's corners, across": ("mouth_corner", 0),
    "chin, up": ("chin", 1),
    "jaw, up": ("jaw_", 1),
    "hairline, up": ("hairline", 1),
    "top of the head, up": ("head_top", 1),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A picture beside what was seen in it."""

    picture: Picture
    seen: Features


GROUPS: dict[str, Callable[[Picture], bool]] = {
    "first family": lambda p: not p.second,
    "second family": lambda p: p.second,
    "deep skin": lambda p: p.tone < TONES[0],
    "middle skin": lambda p: TONES[0] <= p.tone < TONES[1],
    "light skin": lambda p: p.tone >= TONES[1],
}


def draw_cases(count: int) -> list[Case]:
    """Pictures drawn from numbers that the training never drew from."""
    crop = Crop(origin_px=np.zeros(2), axes_px=np.eye(2))
    made = []
    for index in range(count):
        picture = make_picture(np.random.default_rng((_SEED, index)), Given.from_environment())
        made.append(Case(picture=picture, seen=read_crop(picture.rgb, crop)))
    return made


def print_judged(cases: Sequence[Case]) -> None:
    """Of each thing, named where it is and where it is not."""
    print("| judged | " + " | ".join(GROUPS) + " |\n|---|" + "---|" * len(GROUPS))
    for index, name in enumerate(JUDGED):
        cells = []
        for chosen in GROUPS.values():
            own = [c for c in cases if chosen(c.picture)]
            there = [c.seen.judged[name] > 0.5 for c in own if c.picture.judged[index] == 1.0]
            absent = [c.seen.judged[name] > 0.5 for c in own if c.picture.judged[index] == 0.0]
            cells.append(f"{sum(there)} of {len(there)}, falsely {sum(absent)} of {len(absent)}")
        print(f"| {name} | " + " | ".join(cells) + " |")


def print_points(cases: Sequence[Case]) -> None:
    """Of points that nothing covers: sure, right to 3 mm, root mean square, in the 90 % band."""
    print("\n| points | " + " | ".join(GROUPS) + " |\n|---|" + "---|" * len(GROUPS))
    for title, (stem, axis) in _POINTS.items():
        own = [index for index, name in enumerate(NAMES) if name.startswith(stem)]
        cells = []
        for chosen in GROUPS.values():
            off, spread = [], []
            for case in cases:
                shown = [i for i in own if case.picture.shown[i]]
                if chosen(case.picture) and shown:
                    points = case.seen.points
                    off += list((points.places - case.picture.places)[shown, axis] * MM_PER_PX)
                    spread += list(np.sqrt(points.covariance[shown, axis, axis]) * MM_PER_PX)
            cells.append(_told(np.array(off), np.array(spread)))
        print(f"| {title} | " + " | ".join(cells) + " |")


def _told(off_mm: np.ndarray, spread_mm: np.ndarray) -> str:
    sure = spread_mm < SURE_MM
    if not sure.any():
        return f"0 of {len(off_mm)}"
    off, spread = np.abs(off_mm[sure]), spread_mm[sure]
    return (
        f"{sure.sum()} of {len(sure)}, {100 * np.mean(off < RIGHT_MM):.0f} %, "
        f"{np.sqrt(np.mean(off**2)):.1f} mm, {100 * np.mean(off < 1.645 * spread):.0f} %"
    )


def print_parts(cases: Sequence[Case]) -> None:
    """How far what is seen and what is there overlap, by part."""
    step = CROP_PX // cases[0].seen.parts.shares.shape[1]
    found = np.stack([c.seen.parts.shares.argmax(axis=0) for c in cases])
    truth = np.stack([c.picture.label[::step, ::step] for c in cases])
    cells = [
        f"{part.name.lower()} "
        f"{((found == part) & (truth == part)).sum() / max(((found == part) | (truth == part)).sum(), 1):.2f}"  # noqa: E501
        for part in Part
    ]
    print("\noverlap by part: " + ", ".join(cells))


def main() -> None:
    """Draw, look and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pictures", type=int, default=300)
    arguments = parser.parse_args()
    cases = draw_cases(arguments.pictures)
    turned = [c for c in cases if abs(c.picture.turn_deg) > 45.0]
    print(f"{len(cases)} pictures, {len(turned)} turned by more than 45 degrees\n")
    print_judged(cases)
    print_points(cases)
    print_parts(cases)


if __name__ == "__main__":
    main()
