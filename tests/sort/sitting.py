"""A small invented sitting, rendered: two bursts, a blink, a soft frame, and something odd."""

from functools import cache

import numpy as np
import pytest
from PIL import Image, ImageFilter

from builders.pictures.ray_traced import Light, pose_at, render
from sitwell.base.errors import ModelError
from sitwell.face.model import model_path
from sitwell.head.surface import build_head


def need_model():
    try:
        model_path()
    except ModelError:
        pytest.skip("the landmark model has not been brought")


@cache
def picture(turn_deg=0.0, shut=0.0, azimuth_deg=35.0):
    names = ("eye_blink_own_left", "eye_blink_own_right")
    return Image.fromarray(
        render(
            build_head(expression=dict.fromkeys(names, shut)),
            pose_at(turn_deg, 0.0, 0.0, 1500.0),
            focal_px=1100.0,
            size_px=(400, 500),
            lights=[Light(azimuth_deg=azimuth_deg, elevation_deg=30.0, samples=2)],
        )
    )


def save(path, image, second, subsec="0", blur=0.0):
    exif = Image.Exif()
    exif.get_ifd(0x8769).update({36867: f"2026:01:01 10:00:{second:02d}", 37521: subsec})
    image = image.filter(ImageFilter.GaussianBlur(blur)) if blur else image
    noise = np.random.default_rng(second * 100 + int(subsec)).integers(
        -2, 3, (*image.size[::-1], 3)
    )
    grainy = np.clip(np.asarray(image).astype(int) + noise, 0, 255).astype(np.uint8)
    Image.fromarray(grainy).save(path, "JPEG", exif=exif, quality=95)
    return path


def make_sitting(folder):
    """D_0001-4: one burst with a soft frame and a blink; D_0011-13: another with a good second."""
    folder.mkdir()
    straight, turned = picture(), picture(25.0)
    save(folder / "D_0001.jpg", straight, 1, "0", blur=1.6)
    save(folder / "D_0002.jpg", picture(shut=1.0), 1, "2")
    save(folder / "D_0003.jpg", straight, 1, "4")
    save(folder / "D_0004.jpg", straight, 1, "6", blur=0.8)
    save(folder / "D_0011.jpg", picture(25.0, shut=1.0), 30, "0")
    save(folder / "D_0012.jpg", turned, 30, "3")
    save(folder / "D_0013.jpg", picture(25.0, shut=1.0), 30, "6")
    (folder / "D_0020.jpg").write_bytes(b"\xff\xd8 cut short")
    return folder
