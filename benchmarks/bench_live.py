"""From a whole file in the folder to the nudge: how long it takes, part by part.

The floor is measured in the same run on the same files, in turn: decode at the needed size and
run the bare landmarker once. The check does more: it finds the face again in a standard crop,
lays the sitter's head on it, reads the light off the skin, and takes every measure.

    python -m benchmarks.bench_live [--frames 12] [--megapixels 24]

A frame lands by being renamed into the watched folder, as careful transfer programs do; what is
counted runs from there until its report is recorded. Frames that don't end with a JPEG's own end
marker (raw files, files with more pictures behind the first) wait STEADY_S longer. The frames are
rendered from an invented head, enlarged, with grain.
"""

import argparse
import os
import statistics
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np

from benchmarks.bench_sort import alternate, bare_landmarker, make_frames
from sitwell.head.level import head_as_dict
from sitwell.head.surface import build_head
from sitwell.scene.setup import Setup
from sitwell.search.plan import Plan, PlannedSetup
from sitwell.sheet.plan_file import save_plan
from sitwell.shoot.frames import Frame, capture_time
from sitwell.shoot.live import LiveCheck, live_for_plan, watch_and_check

GOAL_MS = 400.0


def plan_file(path: Path) -> Path:
    """A plan for the invented head, whose frames are turned too little: every one is nudged."""
    planned = PlannedSetup(
        name="balanced",
        setup=Setup(turn_deg=30.0, distance_mm=1500.0),
        measures={},
        gains=(),
        guards=(),
        leeway=(),
        reasons=(),
    )
    plan = Plan(baseline=Setup(), baseline_measures={}, setups=(planned,), conflicts=())
    return save_plan(path, plan, head_as_dict(build_head(), np.eye(3)))


@contextmanager
def watching(folder: Path, state: Path, live: LiveCheck) -> Iterator[dict[str, float]]:
    """Watch on another thread; the moment at which each frame's report was given, by name."""
    told: dict[str, float] = {}
    stop = threading.Event()

    def work() -> None:
        for checked in watch_and_check(folder, state, live, stop):
            told[checked.file] = time.perf_counter()

    thread = threading.Thread(target=work)
    thread.start()
    try:
        yield told
    finally:
        stop.set()
        thread.join()


def land(frames: list[Path], folder: Path, told: dict[str, float]) -> list[float]:
    """Milliseconds from each frame's landing to its report; one lands when the last is told."""
    took = []
    for path in frames:
        start = time.perf_counter()
        path.rename(folder / path.name)
        while path.name not in told:
            time.sleep(0.001)
        took.append(1000.0 * (told[path.name] - start))
        time.sleep(0.3)
    return took


def main() -> None:
    """Print medians and worst cases in milliseconds, and the ratio to the floor."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--frames", type=int, default=12)
    parser.add_argument("--megapixels", type=float, default=24.0)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        (place / "camera").mkdir()
        (place / "card").mkdir()
        make_frames(place / "camera", asked.frames, asked.megapixels)
        live = live_for_plan(plan_file(place / "plan.json"))
        paths = sorted((place / "camera").iterdir())

        def check(path: Path) -> None:
            live.check(Frame(path=path, taken=capture_time(path)))

        live.warm()  # which has the process keep its memory, so that the floor does as well
        floor, checked = alternate(paths, bare_landmarker(), check)
        with watching(place / "card", place / "journal.sqlite", live) as told:
            time.sleep(1.0)
            landed = land(paths, place / "card", told)
        print(f"{asked.megapixels:g} MP, {len(paths)} frames, {os.cpu_count()} cores, medians")
        print(f"floor (decode, bare landmarker): {floor}")
        print(f"check of one frame:              {checked}")
        print(
            f"ratio:                           {checked.clock_s / floor.clock_s:5.2f} x the floor"
        )
        print(
            f"landing to nudge:                {statistics.median(landed):5.0f} ms, "
            f"worst {max(landed):.0f} (goal {GOAL_MS:.0f})"
        )
        floors = statistics.median(landed) / 1000 / floor.clock_s
        print(f"landing to nudge:                {floors:5.2f} x the floor")


if __name__ == "__main__":
    main()
