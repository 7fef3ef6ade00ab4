"""How true the sitter's skin is in a preview: an invented painted head, photographed, read anew.

Frames of the head go through the landmarker and the fit as photographs do; the preview in the skin
that comes out is held against the painted head itself in other poses and other light, on the
pixels that the frames showed. PSNR in decibels; a plain head stands beside it.

    python benchmarks/accuracy_skin.py
"""

import dataclasses
import tempfile
import time
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from builders.pictures import plain_frames
from sitwell.brief.request import SitterBrief
from sitwell.head.surface import Head, build_head
from sitwell.scene.paint import Paint
from sitwell.scene.preview import Sculpture
from sitwell.scene.setup import Setup
from sitwell.scene.sitter import read_sitter
from sitwell.scene.skin import EyeColours, Skin, lightness_mean
from sitwell.scene.skin_cover import cover
from sitwell.scene.skin_eyes import WEIGHTS
from sitwell.scene.skin_merge import skin_from_frames

SIZE_PX = (640, 800)
VIEWS = (
    {"turn_deg": 0.0},
    {"turn_deg": 13.0, "chin_deg": 5.0},
    {"turn_deg": -20.0, "key_azimuth_deg": -40.0},
    {"turn_deg": 35.0, "key_azimuth_deg": -40.0, "key_elevation_deg": 35.0},
    {"turn_deg": -35.0},
)


def painted(head: Head) -> Skin:
    """Skin with soft blotches and small spots, so that a smear or a doubled edge would cost."""
    ground = cover(head)
    grid, places = ground.grid, ground.places(slice(None))
    waves = np.sin(places @ np.array([[0.11, 0.05, 0.0], [0.0, 0.13, 0.07], [0.06, 0.0, 0.12]]))
    tone = np.array([0.36, 0.25, 0.19]) * (1.0 + 0.12 * waves)
    spots = places[np.random.default_rng(7).choice(len(places), 260, replace=False)]
    tone[cKDTree(spots).query(places)[0] < 1.6] *= 0.6
    eye = EyeColours(
        white=np.array([0.6, 0.58, 0.55]), iris=np.array([0.1, 0.16, 0.24]), pupil_mm=1.9
    )
    return Skin(
        paint=Paint(
            first=grid.first,
            steps=grid.steps,
            texels=np.column_stack([tone, np.ones(len(tone))]).astype(np.float32),
        ),
        known=np.ones(len(head.triangles)),
        eyes={"own_left": eye, "own_right": eye},
        luminance=0.27,
        files=("nobody",),
    )


def exposed(skin: Skin, factor: float) -> Skin:
    """The same skin, so much brighter or darker."""
    texels = skin.paint.texels.copy()
    texels[:, :3] *= factor
    return dataclasses.replace(
        skin,
        paint=Paint(first=skin.paint.first, steps=skin.paint.steps, texels=texels),
        eyes={side: eye.exposed(factor) for side, eye in skin.eyes.items()},
        luminance=skin.luminance * factor,
    )


def known_pixels(head: Head, skin: Skin, setup: Setup) -> NDArray[np.bool_]:
    """Pixels of painted skin that show only what a frame saw."""
    texels = skin.paint.texels.copy()
    texels[:, :3] *= 0.5
    dim = _pictured(head, skin, texels, setup)
    texels = skin.paint.texels.copy()
    texels[texels[:, 3] < 0.98, :3] = (0.0, 1.0, 0.0)
    first = Sculpture(head, skin).render(setup, *SIZE_PX)
    same = (first == _pictured(head, skin, texels, setup)).all(axis=2)
    return np.asarray(same & (first != dim).any(axis=2))


def _pictured(
    head: Head, skin: Skin, texels: NDArray[np.float32], setup: Setup
) -> NDArray[np.uint8]:
    other = dataclasses.replace(skin, paint=dataclasses.replace(skin.paint, texels=texels))
    return Sculpture(head, other).render(setup, *SIZE_PX)


def _psnr(first: NDArray[np.uint8], second: NDArray[np.uint8], chosen: NDArray[np.bool_]) -> float:
    off = first[chosen].astype(float) - second[chosen].astype(float)
    return float(10.0 * np.log10(255.0**2 / (off**2).mean()))


def main() -> None:
    """Print one line a view."""
    true_head = build_head(plain_frames.SHAPE)
    true_skin = painted(true_head)
    with tempfile.TemporaryDirectory() as folder:
        frames, marks = plain_frames.write_frames(
            true_head, plain_frames.frames_to_take(), Path(folder), skin=true_skin
        )
        sitter = read_sitter(SitterBrief(frames=tuple(frames), marks=marks, level=frames[0]))
        skin = skin_from_frames(sitter.reading)
    # frames don't tell their exposure: the truth is held to the same
    middle = true_skin.paint.texels[cover(true_head).middle, :3]
    true_tone = float(lightness_mean(middle, np.ones(len(middle))) @ WEIGHTS)
    truth = Sculpture(true_head, exposed(true_skin, skin.luminance / true_tone))
    worn, plain = Sculpture(sitter.head, skin), Sculpture(sitter.head)
    for view in VIEWS:
        setup = Setup(framing="tight-head", **view)
        true = truth.render(setup, *SIZE_PX)
        worn.render(setup, *SIZE_PX)
        start = time.process_time()
        seen = worn.render(setup, *SIZE_PX)
        spent_ms = 1000.0 * (time.process_time() - start)
        known = known_pixels(sitter.head, skin, setup)
        print(
            f"{view}: {_psnr(seen, true, known):.1f} dB, plain head "
            f"{_psnr(plain.render(setup, *SIZE_PX), true, known):.1f} dB; "
            f"{100 * worn.unknown_share(setup):.0f} % unknown; {spent_ms:.0f} ms of CPU"
        )


if __name__ == "__main__":
    main()
