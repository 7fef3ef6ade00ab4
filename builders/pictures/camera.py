"""What lies behind an invented face, and what a camera makes of the light: blur, noise, JPEG."""

from functools import cache
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from builders.pictures import things

Floats = NDArray[np.float32]
Bytes = NDArray[np.uint8]
# Packaged pictures that show a person are left out; one of them is kept for checking.
_NOT_MEANT = ("astronaut", "camera")


@cache
def _packaged_pictures() -> list[Bytes]:
    """Pictures without faces that installed packages carry, if there are any."""
    folders = []
    for package in ("skimage", "sklearn"):
        try:
            module = __import__(package)
        except ImportError:
            continue
        root = Path(str(module.__file__)).parent
        folders += [root / "data", root / "datasets" / "images"]
    paths = [p for folder in folders for p in sorted(folder.glob("*.[jp][pn]g"))]
    read = [cv2.imread(str(p)) for p in paths if p.stem not in _NOT_MEANT]
    return [picture[..., ::-1] for picture in read if picture is not None]


def background(side: int, rng: np.random.Generator) -> Floats:
    """What lies behind (side, side, 3): tones, waves, clutter or a packaged picture, soft."""
    kind = rng.random()
    pictures = _packaged_pictures()
    if kind < 0.3 and pictures:
        picture = pictures[int(rng.integers(len(pictures)))]
        size = int(min(picture.shape[:2]) * rng.uniform(0.25, 1.0))
        y, x = (int(rng.integers(0, n - size + 1)) for n in picture.shape[:2])
        piece = cv2.resize(np.ascontiguousarray(picture[y : y + size, x : x + size]), (side, side))
        made = (piece.astype(np.float32) / 255.0) ** 2.2 * rng.uniform(0.3, 1.6)
    else:
        cells = int(rng.integers(2, 5 if kind < 0.6 else 40))
        noise = rng.random((cells, cells, 3)).astype(np.float32) * rng.uniform(0, 1)
        noise = noise * (1 - (grey := rng.random())) + grey * noise.mean(axis=2, keepdims=True)
        way = cv2.INTER_CUBIC if rng.random() < 0.7 else cv2.INTER_NEAREST
        made = things.any_colour(rng) * (
            0.4 + 1.6 * cv2.resize(noise, (side, side), interpolation=way)
        )
    if kind > 0.75:
        _clutter(made := np.ascontiguousarray(made, np.float32), rng)
    if rng.random() < 0.7:
        made = cv2.GaussianBlur(
            np.ascontiguousarray(made, np.float32), (0, 0), rng.uniform(0.5, 14)
        )
    return np.clip(made, 0.0, 1.5).astype(np.float32)


def _clutter(picture: Floats, rng: np.random.Generator) -> None:
    side = len(picture)
    for _ in range(rng.integers(2, 14)):
        colour = [float(c) for c in things.any_colour(rng) * rng.uniform(0.5, 2.0)]
        spot = [int(v) for v in rng.integers(0, side, 2)]
        size = [int(v) for v in rng.integers(4, side // 2, 2)]
        if rng.random() < 0.5:
            cv2.ellipse(picture, spot, size, float(rng.uniform(0, 180)), 0, 360, colour, -1)
        else:
            cv2.line(
                picture, spot, [int(v) for v in rng.integers(0, side, 2)], colour, size[0] // 6 + 1
            )


def photographed(
    linear: Floats, size: tuple[int, int], blur: float, rng: np.random.Generator
) -> Bytes:
    """Exposure, colour, blur, noise, tone curve and JPEG, at a size (high, wide).

    ``blur`` is how many times a crop of ``parts`` the size is, which blur grows with.
    """
    high, wide = size
    small = cv2.resize(linear, (wide, high), interpolation=cv2.INTER_AREA)
    bright = max(
        float(
            np.percentile(small[high // 5 : -high // 5, wide // 4 : -wide // 4].mean(axis=2), 85)
        ),
        1e-3,
    )
    small = small * (rng.uniform(0.25, 1.0) / bright) * np.exp(rng.normal(0, 0.08, 3))
    if rng.random() < 0.5:
        small = cv2.GaussianBlur(small, (0, 0), blur * rng.uniform(0.3, 1.6))
    if rng.random() < 0.15:  # a picture that was small
        share = rng.uniform(0.3, 0.8) / blur
        few = cv2.resize(
            small, (int(wide * share), int(high * share)), interpolation=cv2.INTER_AREA
        )
        small = cv2.resize(few, (wide, high))
    grain = np.exp(rng.uniform(np.log(0.002), np.log(0.06)))
    small = small + rng.normal(0, 1, small.shape) * grain * np.sqrt(np.clip(small, 0.02, 1))
    curve = np.clip(small, 0, 1) ** (1 / rng.uniform(1.8, 2.6))
    if rng.random() < 0.4:
        curve = curve + rng.uniform(-0.5, 0.8) * curve * (1 - curve) * (2 * curve - 1)
    if rng.random() < 0.08:
        curve = np.repeat(curve.mean(axis=2, keepdims=True), 3, axis=2)
    rgb = np.round(255 * np.clip(curve, 0, 1)).astype(np.uint8)
    if rng.random() < 0.5:
        quality = int(rng.uniform(30, 96))
        packed = cv2.imencode(".jpg", rgb, [cv2.IMWRITE_JPEG_QUALITY, quality])[1]
        rgb = cv2.imdecode(packed, cv2.IMREAD_COLOR)
    return np.ascontiguousarray(rgb)
