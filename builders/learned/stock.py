"""A stock of invented pictures in files that processes share: training runs while it grows."""

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import threadpoolctl

Draw = Callable[[np.random.Generator], Mapping[str, Any]]
Fields = Mapping[str, tuple[tuple[int, ...], str]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """Arrays by name, a row a picture, in equal shares for ``makers`` processes.

    Each maker fills its share over and over; ``made`` counts what it has made.
    """

    folder: Path
    share: int
    makers: int
    rows: Mapping[str, Any]
    made: Any

    @classmethod
    def new(cls, folder: Path, size: int, makers: int, fields: Fields) -> "Stock":
        """An empty stock in a new folder; ``fields`` says each row's shape and kind by name."""
        folder.mkdir()
        about = {"share": size // makers, "makers": makers, "fields": dict(fields)}
        (folder / "about.json").write_text(json.dumps(about))
        return cls.open(folder, "w+")

    @classmethod
    def open(cls, folder: Path, mode: str = "r+") -> "Stock":
        """The stock in a folder."""
        about = json.loads((folder / "about.json").read_text())
        share, makers = about["share"], about["makers"]

        def shared(name: str, shape: tuple[int, ...], kind: str) -> Any:
            return np.memmap(folder / name, kind, mode=mode, shape=shape)  # type: ignore[call-overload]

        rows = {
            name: shared(name, (share * makers, *shape), kind)
            for name, (shape, kind) in about["fields"].items()
        }
        made = shared("made", (makers,), "i8")
        return cls(folder=folder, share=share, makers=makers, rows=rows, made=made)

    def new_places(self, taken: Any) -> Any:
        """Rows made since each maker (M,) had made ``taken``, and how many each has made now."""
        made = self.made.copy()
        places = [
            maker * self.share
            + np.arange(max(taken[maker], made[maker] - self.share), made[maker]) % self.share
            for maker in range(self.makers)
        ]
        return np.concatenate(places), made

    def ready_places(self, made: Any) -> Any:
        """All rows that hold a picture when each maker (M,) has made so many."""
        share = self.share
        return np.concatenate([m * share + np.arange(min(n, share)) for m, n in enumerate(made)])


def fill(folder: Path, maker: int, seed: int, most: int | None, draw: Draw) -> None:
    """Fill one maker's share until ``most`` are made, or for ever."""
    cv2.setNumThreads(1)
    threadpoolctl.threadpool_limits(1)
    stock = Stock.open(folder)
    rng = np.random.default_rng((seed, maker))
    while most is None or stock.made[maker] < most:
        place = maker * stock.share + int(stock.made[maker]) % stock.share
        for name, value in draw(rng).items():
            stock.rows[name][place] = value
        stock.made[maker] += 1
