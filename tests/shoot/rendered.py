"""Frames of an invented head, drawn ray by ray: known pose, light, eyelids and blur.

They are no photographs of people; what is learnt on them is how the tool reads, not how well it
does on skin, hair and real lenses.
"""

from functools import cache

import numpy as np
import pytest
from PIL import Image, ImageFilter

from builders.pictures.plain_frames import photographed
from builders.pictures.ray_traced import Light, pose_at, render
from sitwell.base.errors import ModelError
from sitwell.face.model import model_path
from sitwell.head.surface import build_head
from sitwell.scene.preview import Sculpture
from sitwell.scene.setup import Setup

SIZE_PX, FOCAL_PX = (480, 600), 1400.0
BLINK = ("eye_blink_own_left", "eye_blink_own_right")


def need_model():
    try:
        model_path()
    except ModelError:
        pytest.skip("the landmark model has not been brought")


@cache
def head_picture(turn_deg=0.0, chin_deg=0.0, key_azimuth_deg=35.0, shut=0.0, which=BLINK):
    """The picture of one head; ``shut`` closes the eyes that ``which`` names."""
    return Image.fromarray(
        render(
            build_head(expression=dict.fromkeys(which, shut)),
            pose_at(turn_deg, chin_deg, 0.0, 1500.0),
            focal_px=FOCAL_PX,
            size_px=SIZE_PX,
            lights=[Light(azimuth_deg=key_azimuth_deg, elevation_deg=30.0, samples=2)],
        )
    )


@cache
def studio_picture(**setup):
    """The whole frame of one head as its set-up takes it: 85 mm on 24 x 36 mm, upright."""
    taken = Setup(focal_mm=85.0, distance_mm=1500.0, framing="tight-head", aspect="2:3", **setup)
    return Image.fromarray(photographed(_sculpture(), taken, 900).rgb)


@cache
def _sculpture():
    return Sculpture(build_head())


def save_frame(
    path,
    image,
    taken="2026:01:01 10:00:00",
    subsec="0",
    blur=0.0,
    quality=95,
    focal_35_mm=None,
):
    """A JPEG with the EXIF a camera would write: time, fraction, 85 mm, its equivalent."""
    exif = Image.Exif()
    details = exif.get_ifd(0x8769)
    details[36867], details[37521] = taken, subsec
    details[37386] = 85.0
    details[41989] = focal_35_mm or round(
        FOCAL_PX / float(np.hypot(*SIZE_PX)) * float(np.hypot(36, 24))
    )
    if blur:
        image = image.filter(ImageFilter.GaussianBlur(blur))
    path.parent.mkdir(parents=True, exist_ok=True)
    image.save(path, "JPEG", exif=exif, quality=quality)
    return path
