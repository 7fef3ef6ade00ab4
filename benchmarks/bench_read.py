"""Reading one 24-megapixel JPEG against decoding it and running the bare landmarker once.

The bare landmarker is the one of the model's makers (``builders/references``), not ours.

Run from the repository: ``python -m benchmarks.bench_read``. Both are measured in this process,
in turn, and the ratio of their best times is printed with the peak memory of each; the reading
should take at most 2.0 times as long. The picture is a render of an invented head.
"""

import argparse
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from PIL import Image

LIMIT = 2.0
SIZE = (4000, 6000)


def make_picture(path: Path) -> None:
    """An upright 4000 x 6000 JPEG with a head-and-shoulders render and camera EXIF."""
    from builders.pictures.ray_traced import Light, pose_at, render
    from sitwell.head.surface import build_head

    small = (500, 750)
    rgb = render(
        build_head(), pose_at(20.0, 3.0, -3.0, 1800.0), focal_px=85.0 / 24.0 * small[0],
        size_px=small, lights=[Light(azimuth_deg=35.0, elevation_deg=30.0)], ambient=0.3,
    )  # fmt: skip
    large = np.asarray(Image.fromarray(rgb).resize(SIZE, Image.Resampling.BICUBIC), dtype=np.int16)
    grain = np.random.default_rng(1).normal(0.0, 3.0, (SIZE[1], SIZE[0], 1)).astype(np.int16)
    exif = Image.Exif()
    details = exif.get_ifd(0x8769)
    details[37386], details[41989] = 85.0, 85
    picture = Image.fromarray(np.clip(large + grain, 0, 255).astype(np.uint8))
    picture.save(path, quality=92, exif=exif)


def floor(path: Path) -> None:
    """Decode at full size and run the landmarker on it, nothing else."""
    from builders.references.reference_landmarker import reference_landmarker

    with Image.open(path) as image:
        rgb = np.asarray(image.convert("RGB"))
    if not reference_landmarker()(rgb):
        raise SystemExit("the bare landmarker found no face")


def reading(path: Path) -> None:
    """The whole reading: camera, head, pose, light."""
    from sitwell.head.reading import read_photos

    read_photos([path]).require_head()


def best_s(job: Callable[[Path], None], path: Path) -> float:
    """One timing of a job in seconds."""
    begun = time.perf_counter()
    job(path)
    return time.perf_counter() - begun


def peak_mb(job: str, path: Path) -> float:
    """Peak memory of a fresh process that does one job once."""
    command = [sys.executable, "-m", "benchmarks.bench_read", "--only", job, "--picture", str(path)]
    run = subprocess.run(command, capture_output=True, text=True, check=True)
    return float(run.stdout)


def own_peak_mb() -> float:
    """This process's peak memory; Linux's getrusage would count the parent's too."""
    status = Path("/proc/self/status")
    if status.exists():
        line = next(x for x in status.read_text().splitlines() if x.startswith("VmHWM"))
        return float(line.split()[1]) / 1000
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1_000_000


def main() -> None:
    """Measure, print, and fail when the reading is over its limit."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", choices=("floor", "reading"))
    parser.add_argument("--picture", type=Path)
    parser.add_argument("--rounds", type=int, default=7)
    arguments = parser.parse_args()
    jobs = {"floor": floor, "reading": reading}
    if arguments.only:
        jobs[arguments.only](arguments.picture)
        print(own_peak_mb())
        return
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "frame.jpg"
        make_picture(path)
        times: dict[str, list[float]] = {name: [] for name in jobs}
        for _ in range(arguments.rounds + 1):
            for name, job in jobs.items():
                times[name].append(best_s(job, path))
        best = {name: min(values[1:]) for name, values in times.items()}
        for name in jobs:
            print(f"{name}: best {1000 * best[name]:.0f} ms, peak {peak_mb(name, path):.0f} MB")
    ratio = best["reading"] / best["floor"]
    print(f"ratio {ratio:.2f} (limit {LIMIT})")
    sys.exit(ratio > LIMIT)


if __name__ == "__main__":
    main()
