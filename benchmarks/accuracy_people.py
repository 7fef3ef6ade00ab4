"""How well photographs of people are read, beside labels that were made by eye.

Run from the repository: ``python -m benchmarks.accuracy_people FOLDER``; the folder holds
photographs and a ``labels.csv``, whose columns a README beside it explains. Each photograph is read
by itself, as a file. Prints counts and errors only, nothing of any one person; ``--each`` prints
a line a photograph for whoever holds the folder.
"""

import argparse
import csv
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sitwell.brief.marks import Mark
from sitwell.head.obscured import EAR_COVERED
from sitwell.head.pose import project, upright_axes
from sitwell.head.reading import FrameReading, Reading, read_photos
from sitwell.head.report import reading_as_dict
from sitwell.head.surface import SIDES, Head, head_from_values
from sitwell.head.template import load_template

Array = NDArray[np.float64]
THINGS = ("hat", "glasses", "beard", "mask", "hand", "hair_over_brows")
STUBBLE = "1"  # of the labels for beards
NEAR_MM = 700.0  # nearer than this hardly anybody takes a portrait (common practice, no source)
# Turns that a label's word stands for, by eye, and how far beyond them still counts as agreed.
TURNS_DEG = {
    "square": (0.0, 8.0),
    "small": (8.0, 22.0),
    "middle": (22.0, 50.0),
    "far": (50.0, 95.0),
}
TURN_SLACK_DEG = 6.0
FRONT_DEG = 25.0  # a key this near the lens's side counts as in front
# Points of the head by the names of their labels, with what hides them.
POINTS: Mapping[str, tuple[str, tuple[str, ...]]] = {
    "hairline": ("hairline", ("hat", "hair_over_brows")),
    "chin": ("chin", ("beard", "mask", "hand")),
    "nose_base": ("nose_base", ("mask",)),
    "root": ("nose_root", ()),
    "pupil_own_left": ("iris_own_left", ()),
    "pupil_own_right": ("iris_own_right", ()),
}
_EAR_LABELS = {"ear_top": ("top", 1), "ear_outer": ("outer", 0), "ear_lobe": ("lobe", 1)}
_OPENINGS = tuple(f"eye_opening_{side}_mm" for side in SIDES)
_FACE_TOP, _FACE_CHIN = 10, 152  # landmarks whose distance stands for the face's height


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """One photograph: its labels, what was read, and the same as plain values."""

    labels: Mapping[str, str]
    reading: Reading
    said: Mapping[str, Any]

    @property
    def frame(self) -> FrameReading:
        """The one frame."""
        return self.reading.frames[0]

    @property
    def row(self) -> Mapping[str, Any]:
        """The frame as plain values."""
        return dict(self.said["frames"][0])

    @property
    def turn(self) -> tuple[str, str]:
        """Labelled side (or none) and class of the turn."""
        side, _, size = self.labels["turn"].rpartition(" ")
        return side, size

    def spot(self, name: str) -> Array | None:
        """A labelled point in pixels, None where it was not seen."""
        if not self.labels[f"{name}_x"]:
            return None
        return np.array([float(self.labels[f"{name}_x"]), float(self.labels[f"{name}_y"])])

    def off(self, seen_px: Array, label_px: Array) -> Array:
        """Seen less labelled, across and up in the upright face, in shares of its height."""
        face, pose = self.frame.face, self.frame.pose
        if face is None or pose is None:
            raise SystemExit("Only frames with a face are compared.")
        high = np.linalg.norm(face.landmarks_px[_FACE_TOP] - face.landmarks_px[_FACE_CHIN])
        return np.asarray((seen_px - label_px) @ upright_axes(pose.seen_deg[2]).T / high)


GROUPS: dict[str, Callable[[Person], str]] = {
    "skin": lambda p: p.labels["skin"],
    "hair": lambda p: p.labels["hair_colour"],
    "hat": lambda p: p.labels["hat"],
    "glasses": lambda p: p.labels["glasses"],
    "turn": lambda p: p.turn[1],
}


def read_people(folder: Path) -> list[Person]:
    """Read every labelled photograph of the folder."""
    with (folder / "labels.csv").open(encoding="utf-8", newline="") as file:
        labels = list(csv.DictReader(file))
    people = []
    for own in labels:
        reading = read_photos([folder / own["file"]])
        people.append(Person(labels=own, reading=reading, said=reading_as_dict(reading)))
    return people


def posed_head(person: Person) -> Head | None:
    """The fitted head with the frame's own expression."""
    fitted, fit = person.frame.fitted, person.reading.fit
    if fitted is None or fit is None:
        return None
    return head_from_values(
        load_template(),
        fitted.shape.astype(np.float32),
        fitted.expression.astype(np.float32),
        fit.head.hairline_mm,
    )


def by_group(people: Sequence[Person]) -> Iterator[tuple[str, list[Person]]]:
    """Everybody, then each group."""
    yield "all", list(people)
    for name, group_of in GROUPS.items():
        for group in sorted({group_of(person) for person in people}):
            yield f"{name}: {group}", [p for p in people if group_of(p) == group]


def print_groups(people: Sequence[Person]) -> None:
    """Faces found, things named falsely and missed, ears marked, turns and keys, by group."""
    print("| group | faces found | things false, missed | bare ears marked | turn, key agree |")
    print("|---|---|---|---|---|")
    for name, own in by_group(people):
        read = [p for p in own if p.frame.pose is not None]
        named = [one for thing in THINGS for one in _named(read, thing)]
        false = sum(said and not there for there, said in named)
        missed = sum(there and not said for there, said in named)
        ears = [side in p.frame.found.clear_ears for p, side in _ears(read, "bare")]
        turns = [_turn_agrees(p) for p in read]
        keys = [agrees for p in read if (agrees := _key_agrees(p)) is not None]
        print(
            f"| {name} | {len(read)} of {len(own)} | {false}, {missed} "
            f"| {sum(ears)} of {len(ears)} "
            f"| {sum(turns)} of {len(turns)}, {sum(keys)} of {len(keys)} |"
        )


def print_named(people: Sequence[Person]) -> None:
    """Each thing: named where it is, and where it is not."""
    print("\n| in the way | named where it is | named where it is not |\n|---|---|---|")
    for thing in THINGS:
        named = _named(people, thing)
        there = [said for real, said in named if real]
        absent = [said for real, said in named if not real]
        print(f"| {thing} | {sum(there)} of {len(there)} | {sum(absent)} of {len(absent)} |")
    for label in ("hidden_by_hair", "partly", "bare"):
        ears = [EAR_COVERED[side] in p.frame.obscured for p, side in _ears(people, label)]
        print(f"| hair over an ear, labelled {label} | {sum(ears)} of {len(ears)} | |")


def _named(people: Sequence[Person], thing: str) -> list[tuple[bool, bool]]:
    """Whether a thing is there and whether it is named; stubble counts as neither."""
    name = thing.replace("_", "-")
    plain = [p for p in people if thing != "beard" or p.labels["beard"] != STUBBLE]
    return [(_there(p, thing), name in p.frame.obscured) for p in plain]


def _there(person: Person, thing: str) -> bool:
    """Whether a label says that a thing hides skin; stubble does not."""
    return person.labels[thing] not in ("0", STUBBLE if thing == "beard" else "")


def _ears(people: Sequence[Person], label: str) -> list[tuple[Person, str]]:
    return [(p, side) for p in people for side in SIDES if p.labels[f"ear_{side}"] == label]


def print_ears(people: Sequence[Person]) -> None:
    """The ears' marks beside the labels, and marks on ears that are not bare."""
    print("\n| ears' marks | bare ears with it | off, median | nine in ten | mean, out or up "
          "| on others |\n|---|---|---|---|---|---|")  # fmt: skip
    for stem, (label, axis) in _EAR_LABELS.items():
        off, bare, elsewhere = [], 0, 0
        for person in people:
            for side in SIDES:
                mark = _mark(person, f"{stem}_{side}")
                is_bare = person.labels[f"ear_{side}"] == "bare"
                bare += is_bare
                elsewhere += mark is not None and not is_bare
                spot = person.spot(f"ear_{side}_{label}")
                if mark is None or not is_bare or spot is None:
                    continue
                outward = 1.0 if side == "own_left" or axis == 1 else -1.0
                off.append(outward * person.off(np.array([mark.x_px, mark.y_px]), spot)[axis])
        print(f"| {stem} | {len(off)} of {bare} | {_shares(off)} | {elsewhere} |")


def _mark(person: Person, name: str) -> Mark | None:
    return next((mark for mark in person.frame.found.marks if mark.name == name), None)


def print_points(people: Sequence[Person]) -> None:
    """Where the fitted head's points are drawn in the picture, beside the labels."""
    print("\n| point | of | up: off, median | nine in ten | mean "
          "| across: off, median | nine in ten | mean |")  # fmt: skip
    print("|---|---|---|---|---|---|---|---|")
    for label, (name, hidden_by) in POINTS.items():
        off = []
        for person in people:
            spot, head, frame = person.spot(label), posed_head(person), person.frame
            fitted, focal, size = frame.fitted, frame.focal, frame.size_px
            hidden = any(_there(person, thing) for thing in hidden_by)
            if spot is None or head is None or hidden or not (fitted and focal and size):
                continue
            point = np.asarray(head.point(name), dtype=float)[None]
            focal_px = focal.px_at(fitted.pose.distance_mm)
            seen = project(point, fitted.pose, focal_px, np.array(size) / 2.0)[0]
            off.append(person.off(seen, spot))
        up, across = ([each[axis] for each in off] for axis in (1, 0))
        print(f"| {label} | {len(off)} | {_shares(up)} | {_shares(across)} |")


def _shares(off: Sequence[float]) -> str:
    """Median and nine in ten of the absolute, and the mean, in hundredths of the face's height."""
    if not off:
        return "- | - | -"
    size = 100 * np.abs(off)
    middle, most = np.median(size), np.percentile(size, 90)
    return f"{middle:.1f} % | {most:.1f} % | {100 * np.mean(off):+.1f} %"


def _turn_agrees(person: Person) -> bool:
    side, size = person.turn
    turn_deg = person.row["turn_deg"]
    low, high = TURNS_DEG[size]
    toward = turn_deg if side == "own_left" else -turn_deg if side else abs(turn_deg)
    return bool(low - TURN_SLACK_DEG <= toward <= high + TURN_SLACK_DEG)


def _key_agrees(person: Person) -> bool | None:
    """Whether the key stands on the labelled side; None where either is not told."""
    azimuth_deg, side = person.row["key_azimuth_deg"], person.labels["key_side"]
    if azimuth_deg is None or side == "unclear":
        return None
    if side == "front":
        return bool(abs(azimuth_deg) < FRONT_DEG)
    return bool((azimuth_deg > 0) == (side == "camera_right"))


def print_rest(people: Sequence[Person]) -> None:
    """Keys' heights, distances, and eyes that can't be measured."""
    keys = [p for p in people if p.row["key_azimuth_deg"] is not None]
    low = sum(p.row["key_elevation_deg"] < 0 for p in keys)
    high = [p.row["key_elevation_deg"] > 10 for p in keys if p.labels["key_height"] == "high"]
    print(
        f"\nkeys told {len(keys)} of {len(people)}, below the eyes {low}; of keys labelled high "
        f"{sum(high)} of {len(high)} above 10 deg"
    )
    far = np.array([p.row["distance_mm"] for p in people])
    spread = np.array([p.row["distance_spread_mm"] for p in people]) / far
    print(
        f"distances: median {np.median(far):.0f} mm, middle half {np.percentile(far, 25):.0f} to "
        f"{np.percentile(far, 75):.0f}, nearer than {NEAR_MM:.0f} mm {(far < NEAR_MM).sum()} of "
        f"{len(far)}; spread stated {100 * np.median(spread):.0f} % in the median"
    )
    shut = [p for p in people if p.labels["eyes"] == "closed" or p.labels["glasses"] == "sun"]
    told = [p for p in shut if any(p.said["head"][name] is not None for name in _OPENINGS)]
    print(f"eyes shut or behind dark glasses, an opening given: {len(told)} of {len(shut)}")


def print_each(people: Sequence[Person]) -> None:
    """A line a photograph."""
    for p in people:
        row, own = p.row, p.labels
        told = ("turn", "chin", "tilt", "key_azimuth", "key_elevation")
        angles = [row[f"{name}_deg"] for name in told]
        things = ",".join(sorted(p.frame.obscured))
        truth = ",".join(f"{t}{own[t]}" for t in THINGS if own[t] != "0")
        marks = ",".join(sorted(m.name for m in p.frame.found.marks if m.name.startswith("ear")))
        seen = [own[name] for name in ("file", "skin", "turn", "key_side", "key_height")]
        ears = f"L:{own['ear_own_left']} R:{own['ear_own_right']} {marks}"
        print(*seen, angles, row["distance_mm"], f"[{things}] [{truth}]", ears)


def main() -> None:
    """Read the folder and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--each", action="store_true", help="print a line a photograph as well")
    arguments = parser.parse_args()
    people = read_people(arguments.folder)
    print_groups(people)
    read = [person for person in people if person.frame.pose is not None]
    print_named(read)
    print_ears(read)
    print_points(read)
    print_rest(read)
    if arguments.each:
        print_each(read)


if __name__ == "__main__":
    main()
