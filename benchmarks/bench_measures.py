"""Evaluations of all measures per second on one core, against Embree casting the same rays.

    python benchmarks/bench_measures.py [seconds]

One evaluation poses the head, rasterises it whole and magnified round eyes and nostrils, lights it
and reads every measure. Embree only builds its tree for the posed head and casts one ray for every
pixel the evaluation rasterises: the floor under any measuring by rays. Time is the process's own
(CPU) time, so other work on the machine disturbs it less; both run in turns in the same run.
"""

import sys
import time
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

from sitwell.head.surface import build_head
from sitwell.scene.measures import NAMES, Evaluator
from sitwell.scene.setup import Setup
from sitwell.scene.view import (
    HEIGHT_PX,
    WIDTH_PX,
    WINDOW_HEIGHT_PX,
    WINDOW_WIDTH_PX,
    Observer,
    View,
)

RAYS = WIDTH_PX * HEIGHT_PX + 3 * WINDOW_WIDTH_PX * WINDOW_HEIGHT_PX
BATCH = 60


def some_setups(count: int) -> list[Setup]:
    """Set-ups all over the usual range, the same on every run."""
    random = np.random.default_rng(7)
    return [
        Setup(
            turn_deg=random.uniform(-40, 40),
            chin_deg=random.uniform(-10, 15),
            tilt_deg=random.uniform(-8, 8),
            camera_height_mm=random.uniform(-300, 300),
            key_azimuth_deg=random.uniform(-80, 80),
            key_elevation_deg=random.uniform(0, 60),
        )
        for _ in range(count)
    ]


def rays_over(view: View) -> NDArray[np.float32]:
    """RAYS directions spread evenly over the head's box in the picture."""
    x, y, _ = view.camera.project(view.posed_mm).T
    side = int(np.ceil(np.sqrt(RAYS)))
    across, along = np.meshgrid(
        np.linspace(x.min(), x.max(), side), np.linspace(y.min(), y.max(), side)
    )
    ahead = np.stack([across.ravel(), along.ravel(), -np.ones(side**2)], axis=-1)[:RAYS]
    return (ahead @ view.camera.axes).astype(np.float32)


def cast(view: View, directions: NDArray[np.float32], origins: NDArray[np.float32]) -> NDArray[Any]:
    """First hit of every ray on the posed head, tree built anew."""
    scene = EmbreeScene()
    TriangleMesh(scene, view.posed_mm.astype(np.float32), view.anatomy.triangles)
    return scene.run(origins, directions)


def batch_seconds(work: Callable[[Setup], object], items: Sequence[Setup]) -> float:
    """CPU seconds for each item."""
    start = time.process_time()
    for item in items:
        work(item)
    return (time.process_time() - start) / len(items)


def main(seconds: float = 20.0) -> None:
    """Print both times and their ratio."""
    head = build_head()
    evaluator, observer = Evaluator(head), Observer(head)
    setups = some_setups(BATCH)
    for setup in setups:  # compile, and fill the shadow table as a search's first steps do
        evaluator.evaluate(setup)
    view = observer.view(Setup(turn_deg=20))
    directions = rays_over(view)
    origins = np.tile(view.camera.lens_mm, (RAYS, 1)).astype(np.float32)
    ours, embree = [], []
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        ours.append(batch_seconds(evaluator.evaluate, setups))
        embree.append(batch_seconds(lambda _: cast(view, directions, origins), setups[:5]))
    evaluation, rays = np.median(ours), np.median(embree)
    print(f"measures per evaluation        {len(NAMES)}")
    print(f"triangles, pixels              {len(head.triangles)}, {RAYS}")
    print(f"evaluations per second         {1 / evaluation:.0f} (best batch {1 / min(ours):.0f})")
    print(f"one evaluation                 {1e3 * evaluation:.2f} ms")
    print(f"Embree, same number of rays    {1e3 * rays:.2f} ms")
    print(f"Embree over whole evaluation   {rays / evaluation:.1f}")


if __name__ == "__main__":
    main(*(float(argument) for argument in sys.argv[1:]))
