"""Whether the likeness keeps the sitter's own tone: the middle of the face, there and photographed.

A photograph says nothing of how bright skin is against an absolute measure, so its own rendering of
the face is the sitter's tone, and a likeness keeps it when the middle of the face (cheeks and nose,
by the landmarks) comes out as bright. Stops in linear light, + where the likeness is brighter, and
CIEDE2000, in the frame's own pose under several planned lights; by the labelled groups of skin.

    python benchmarks/accuracy_tone.py FOLDER [--pictures OTHER_FOLDER]

FOLDER holds photographs and labels.csv with the columns file and skin. Without it only invented
heads are drawn, of deep, middle and light skin under an even and a hard light, and read anew.
``--pictures`` keeps each photograph beside its likenesses.
"""

import argparse
import csv
import math
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from skimage import color

from builders.pictures import plain_frames
from sitwell.base.errors import HeadError, SitwellError
from sitwell.brief.photos import open_photo
from sitwell.brief.request import SitterBrief
from sitwell.head.reading import FrameReading
from sitwell.head.shading import linear_from_srgb
from sitwell.head.surface import build_head
from sitwell.head.template import load_template
from sitwell.likeness.likeness import likeness_of, why_none
from sitwell.scene.preview import Sculpture
from sitwell.scene.preview_shade import ON_RASTER
from sitwell.scene.setup import Setup
from sitwell.scene.sitter import read_frames

SIZE_PX = (480, 600)
# Landmarks around the cheeks' fronts and the nose: no brow, lid, lip or nostril, and few beards.
MIDDLE = (101, 50, 205, 5, 425, 280, 330)
GROUPS = ("deep", "middle", "light")
ALBEDOS = {"deep": 0.12, "middle": 0.4, "light": 1.0}  # of plain_frames' brown
LIGHTS = {
    "even": {"fill_ratio": 1.3, "key_azimuth_deg": 0.0},
    "hard": {"fill_ratio": 8.0, "key_azimuth_deg": 60.0, "key_size_mm": 200.0},
}
PLANS = {
    "usual": {},
    "even": {"fill_ratio": 1.3, "key_azimuth_deg": 0.0},
    "other side": {"key_azimuth_deg": -45.0},
    "split": {"key_azimuth_deg": 90.0, "key_elevation_deg": 10.0, "fill_ratio": 8.0},
}
TO_XYZ = np.array(  # of linear sRGB (IEC 61966-2-1)
    [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
)
WHITE_Y = TO_XYZ[1]

Floats = NDArray[np.float64]
Pixels = NDArray[np.uint8]


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One sitter: how the likeness's middle of the face lies off the photograph's, by plan."""

    name: str
    group: str
    luminance: float
    stops: dict[str, float]
    median_stops: dict[str, float]
    colour_off: dict[str, float]


def main() -> None:
    """Print a line for each sitter, then each group's middle and worst."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path, nargs="?")
    parser.add_argument("--pictures", type=Path)
    asked = parser.parse_args()
    if asked.pictures:
        asked.pictures.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        print_rows("invented heads", list(drawn(Path(folder), asked.pictures)))
    if asked.folder:
        print_rows("photographs", list(photographed(asked.folder, asked.pictures)))


def drawn(folder: Path, keep: Path | None) -> Iterator[Row]:
    """Invented heads whose truth is known."""
    head = build_head(plain_frames.SHAPE)
    for group, albedo in ALBEDOS.items():
        sculpture = plain_frames.painted(head, albedo)
        for light, changes in LIGHTS.items():
            taken = plain_frames.frames_to_take()[0].with_changes(**changes)
            made = folder / f"{group}-{light}"
            made.mkdir()
            frames, _ = plain_frames.write_frames(head, (taken,), made, sculpture)
            yield measured(frames[0], group, f"{group}, {light} light", keep)


def photographed(folder: Path, keep: Path | None) -> Iterator[Row]:
    """The labelled photographs that give a likeness."""
    with (folder / "labels.csv").open(encoding="utf-8") as lines:
        labels = [(row["file"], row["skin"]) for row in csv.DictReader(lines)]
    for file, group in labels:
        try:
            yield measured(folder / file, group, file, keep)
        except SitwellError as problem:
            print(f"{file} ({group}): {problem}")


def measured(path: Path, group: str, name: str, keep: Path | None) -> Row:
    """The photograph's middle of the face, and the likeness's against it."""
    reading = read_frames(SitterBrief(frames=(path,)))
    head, frame = reading.require_head(), reading.frames[0]
    likeness, plain = likeness_of(reading, head), Sculpture(head)
    if likeness is None:
        raise HeadError(why_none(reading))
    photo, seen = photographed_middle(frame)
    pictures, row = [photo], Row(
        name=name, group=group, luminance=float(seen.mean(axis=0) @ WHITE_Y),
        stops={}, median_stops={}, colour_off={},
    )  # fmt: skip
    for plan, changes in PLANS.items():
        setup = posed(frame).with_changes(**changes)
        picture = likeness.picture(setup, *SIZE_PX).pixels
        drawn_middle = middle_of(picture, landmarks_in_picture(plain, setup, SIZE_PX))
        row.stops[plan] = _stops(drawn_middle.mean(axis=0), seen.mean(axis=0))
        row.median_stops[plan] = math.log2(
            float(np.median(drawn_middle @ WHITE_Y) / np.median(seen @ WHITE_Y))
        )
        row.colour_off[plan] = _apart(drawn_middle.mean(axis=0), seen.mean(axis=0))
        pictures.append(picture)
    if keep:
        _beside(pictures).save(keep / f"{group}-{Path(name).stem}.png")
    return row


def posed(frame: FrameReading) -> Setup:
    """A set-up in the frame's own pose."""
    if frame.fitted is None:
        raise ValueError("only fitted frames come here")
    turn_deg, chin_deg, tilt_deg = frame.fitted.pose.seen_deg
    return Setup(turn_deg=turn_deg, chin_deg=chin_deg, tilt_deg=tilt_deg, framing="tight-head")


def photographed_middle(frame: FrameReading) -> tuple[Pixels, Floats]:
    """The photograph around the face, and the linear colours (n, 3) of the middle of the face."""
    if frame.path is None or frame.face is None:
        raise ValueError("only frames with a photograph come here")
    photo = open_photo(frame.path, largest_side_px=1600)
    landmarks = frame.face.landmarks_px / photo.px_per_rgb_px
    colours = middle_of(photo.rgb, landmarks[list(MIDDLE)])
    low, high = landmarks.min(axis=0), landmarks.max(axis=0)
    reach = 0.55 * (high - low).max()
    left, top = np.maximum(low - reach, 0).astype(int)
    right, bottom = (high + 0.5 * reach).astype(int)
    return photo.rgb[top:bottom, left:right], colours


def landmarks_in_picture(sculpture: Sculpture, setup: Setup, size_px: tuple[int, int]) -> Floats:
    """Where a picture has the landmarks of the middle of the face (n, 2), in pixels."""
    template = load_template()
    raster = sculpture.scene(setup, *size_px).traits[:, ON_RASTER : ON_RASTER + 2]
    corners = sculpture.anatomy.triangles[template.landmark_triangle[list(MIDDLE)]]
    weights = template.landmark_weights[list(MIDDLE)]
    return np.asarray(0.5 * (weights[..., None] * raster[corners]).sum(axis=1))


def middle_of(rgb: Pixels, outline_px: Floats) -> Floats:
    """Linear colours (n, 3) inside an outline (m, 2)."""
    inside = Image.new("1", rgb.shape[1::-1])
    ImageDraw.Draw(inside).polygon([(float(x), float(y)) for x, y in outline_px], fill=1)
    return linear_from_srgb(rgb[np.asarray(inside)])


def _stops(first: Floats, second: Floats) -> float:
    return math.log2(float(first @ WHITE_Y) / float(second @ WHITE_Y))


def _apart(first: Floats, second: Floats) -> float:
    apart: Any = color.deltaE_ciede2000
    return float(apart(*(color.xyz2lab(colour @ TO_XYZ.T) for colour in (first, second))))


def _beside(pictures: list[Pixels]) -> Image.Image:
    height = SIZE_PX[1]
    shown = [Image.fromarray(np.ascontiguousarray(picture)) for picture in pictures]
    shown = [one.resize((round(one.width * height / one.height), height)) for one in shown]
    sheet = Image.new("RGB", (sum(one.width for one in shown), height))
    for index, one in enumerate(shown):
        sheet.paste(one, (sum(before.width for before in shown[:index]), 0))
    return sheet


def print_rows(title: str, rows: list[Row]) -> None:
    """Each sitter, then by group the middle and the worst of what the plans differ by."""
    print(f"\n{title}: luminance in the photograph; stops (of medians), CIEDE2000 by plan")
    for row in rows:
        each = "; ".join(
            f"{plan} {row.stops[plan]:+.2f} ({row.median_stops[plan]:+.2f}) "
            f"{row.colour_off[plan]:.1f}"
            for plan in PLANS
        )
        print(f"{row.name} ({row.group}) {row.luminance:.3f}: {each}")
    print(
        f"\nStops off, median and worst; CIEDE2000, median and worst.\n\n"
        f"| {title} | n | {' | '.join(PLANS)} |"
    )
    print("|---" * (len(PLANS) + 2) + "|")
    for group in GROUPS:
        mine = [row for row in rows if row.group == group]
        if mine:
            cells = " | ".join(_cell(mine, plan) for plan in PLANS)
            print(f"| {group} | {len(mine)} | {cells} |")


def _cell(rows: list[Row], plan: str) -> str:
    stops = np.abs([row.stops[plan] for row in rows])
    colours = np.array([row.colour_off[plan] for row in rows])
    return (
        f"{np.median(stops):.2f}, {stops.max():.2f}; {np.median(colours):.1f}, {colours.max():.1f}"
    )


if __name__ == "__main__":
    main()
