"""An example to look around in: three frames of an invented head, nobody's, drawn by ourselves."""

from pathlib import Path

import numpy as np
from PIL import Image

from sitwell.head.surface import build_head
from sitwell.head.template import load_template
from sitwell.scene.preview import Sculpture
from sitwell.scene.setup import Setup
from sitwell.ui.web.documents import Shelf
from sitwell.ui.web.paper import Sitting, now
from sitwell.ui.web.uploads import frame_for, store_frame
from sitwell.ui.web.wording import mark, t

FRAMES = (("level", 0.0), ("own_left", 25.0), ("own_right", -27.0))
LABEL = mark("Example, nobody")
SEED = 5
_LENS_MM, _LENS_35_MM = 37386, 41989  # EXIF tags: focal length, and its 35 mm equivalent


def begin_example(shelf: Shelf) -> Sitting:
    """A new sitting of nobody, without its frames: ``bring_frames`` draws those."""
    sitting = shelf.new()
    sitting.label = t(LABEL)
    sitting.sitter.consent_at = now()
    sitting.sitter.wishes = {"ears": ["soften", 2]}
    shelf.write(sitting)
    return sitting


def bring_frames(shelf: Shelf, sitting: Sitting) -> None:
    """Draw the example's frames and lay them on its table; takes some seconds."""
    folder = shelf.frames(sitting)
    folder.mkdir(mode=0o700, exist_ok=True)
    for drawn in draw_frames(folder, SEED):
        frame = frame_for(drawn.name)
        store_frame(folder, frame, drawn.read_bytes())
        drawn.unlink()
        sitting.sitter.frames.append(frame)
    shelf.write(sitting)


def invented_shape(seed: int) -> dict[str, float]:
    """Sliders of a made-up head."""
    template, random = load_template(), np.random.default_rng(seed)
    return {
        name: float(0.5 * random.normal() * sigma)
        for name, sigma in zip(template.shape_names, template.shape_sigma, strict=True)
    }


def draw_frames(folder: Path, seed: int = SEED) -> list[Path]:
    """Three frames of an invented head: level, and turned each way, with their EXIF."""
    sculpture = Sculpture(build_head(invented_shape(seed)))
    files = []
    for name, turn_deg in FRAMES:
        setup = Setup(turn_deg=turn_deg, distance_mm=1800.0)
        exif = Image.Exif()
        exif.get_ifd(0x8769)[_LENS_MM] = setup.focal_mm
        exif.get_ifd(0x8769)[_LENS_35_MM] = round(setup.focal_mm)
        files.append(folder / f"{name}.jpg")
        picture = Image.fromarray(sculpture.render(setup, 960, 1200))
        picture.save(files[-1], quality=92, exif=exif)
    return files
