"""Ratings that another program writes at the same moment: how many are lost, how many ours join.

    python -m benchmarks.rival_sidecars [--trials 1000]

A second process, which knows nothing of our lock, gives a sidecar the rating 5 at a random moment
within 20 ms of our writing a 3: into the file that is there, or under a temporary name renamed over
it. Whoever comes first, the 5 is a person's and must be what stands there in the end.
"""

import argparse
import contextlib
import multiprocessing
import random
import tempfile
import time
from collections.abc import Callable
from multiprocessing.connection import Connection
from pathlib import Path

from sitwell.base.errors import SidecarError
from sitwell.sort.packet import empty_packet, read_packet, set_rating
from sitwell.sort.xmp import write_sidecar

WITHIN_S = 0.02
MANNERS = ("in place", "renamed")


def their_words() -> bytes:
    """A sidecar of another program, with a person's rating of 5."""
    return set_rating(empty_packet(), 5).replace(b"urn:sitwell:xmp:1", b"urn:rival")


def rival(orders: Connection) -> None:
    """The other program: waits its time and writes, until the line is closed."""
    while (order := orders.recv()) is not None:
        path, delay_s, manner = order
        end = time.perf_counter() + delay_s
        while time.perf_counter() < end:
            pass
        if manner == "in place":
            path.write_bytes(their_words())
        else:
            part = path.with_suffix(".theirs")
            part.write_bytes(their_words())
            part.replace(path)
        orders.send("done")


def lost_ratings(
    folder: Path,
    trials: int,
    manner: str,
    write: Callable[[Path, int], object] = write_sidecar,
    *,
    seed: int = 1,
) -> int:
    """In how many of ``trials`` the other program's rating was gone in the end."""
    chance, lost = random.Random(seed), 0
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe()
    other = context.Process(target=rival, args=(theirs,), daemon=True)
    other.start()
    for number in range(trials):
        photo = folder / f"{manner}-{number:05d}.jpg"
        sidecar = photo.with_suffix(".xmp")
        sidecar.write_bytes(empty_packet())
        ours.send((sidecar, chance.uniform(0, WITHIN_S), manner))
        time.sleep(chance.uniform(0, WITHIN_S))
        # An error is said aloud, so nothing is lost unseen: theirs was half written when we looked.
        with contextlib.suppress(SidecarError):
            write(photo, 3)
        ours.recv()
        lost += read_packet(sidecar.read_bytes()).rating != 5
    ours.send(None)
    other.join()
    return lost


def main() -> None:
    """Print how many of each manner were lost."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--trials", type=int, default=1000)
    trials = parser.parse_args().trials
    for manner in MANNERS:
        with tempfile.TemporaryDirectory() as folder:
            lost = lost_ratings(Path(folder), trials, manner)
        print(f"{manner}: {lost} of {trials} ratings of the other program lost")


if __name__ == "__main__":
    main()
