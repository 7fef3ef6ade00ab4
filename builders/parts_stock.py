"""A stock of invented pictures in files that processes share: training runs while it grows."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import threadpoolctl

from builders.parts_pictures import FINE, make_picture
from sitwell.face.parts import CROP_PX

_FINE_PX = FINE * CROP_PX


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """Pictures, fine labels, and tone and turn of each, in equal shares for ``makers`` processes.

    Each maker fills its share over and over; ``made`` counts what it has made.
    """

    folder: Path
    share: int
    makers: int
    rgb: Any
    label: Any
    about: Any
    made: Any

    @classmethod
    def new(cls, folder: Path, size: int, makers: int) -> "Stock":
        """An empty stock in a new folder."""
        folder.mkdir()
        (folder / "size.txt").write_text(f"{size // makers} {makers}")
        return cls.open(folder, "w+")

    @classmethod
    def open(cls, folder: Path, mode: str = "r+") -> "Stock":
        """The stock in a folder."""
        share, makers = map(int, (folder / "size.txt").read_text().split())
        count = share * makers

        def shared(name: str, shape: tuple[int, ...], kind: Any) -> Any:
            return np.memmap(folder / name, kind, mode=mode, shape=shape)

        return cls(
            folder=folder,
            share=share,
            makers=makers,
            rgb=shared("rgb", (count, CROP_PX, CROP_PX, 3), np.uint8),
            label=shared("label", (count, _FINE_PX, _FINE_PX), np.uint8),
            about=shared("about", (count, 2), np.float32),
            made=shared("made", (makers,), np.int64),
        )


def make_pictures(folder: Path, maker: int, seed: int, most: int | None) -> None:
    """Fill one maker's share until ``most`` are made, or for ever."""
    cv2.setNumThreads(1)
    threadpoolctl.threadpool_limits(1)
    stock = Stock.open(folder)
    rng = np.random.default_rng((seed, maker))
    while most is None or stock.made[maker] < most:
        picture = make_picture(rng)
        place = maker * stock.share + int(stock.made[maker]) % stock.share
        stock.rgb[place], stock.label[place] = picture.rgb, picture.label
        stock.about[place] = picture.tone, picture.turn_deg
        stock.made[maker] += 1
