"""Light and backgrounds from pictures of whole surroundings, that a package offers under CC0.

``python -m builders.pictures.places PACKAGE OUT`` unpacks the environment pictures of the npm
package @pmndrs/assets (CC0, made from Poly Haven's) into one file of arrays.
"""

import argparse
import base64
import re
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]
HIGH_PX, WIDE_PX = 256, 512


def unpack(package: Path, out: Path) -> None:
    """Write linear pictures (N, HIGH_PX, WIDE_PX, 3) of all ways from a place, up first."""
    import mitsuba

    mitsuba.set_variant("scalar_rgb")
    made = []
    for path in sorted((package / "hdri").glob("*.exr.js")):
        found = re.search(r"base64,([A-Za-z0-9+/=]+)", path.read_text())
        if found is None:
            raise SystemExit(f"{path} holds no picture; give the package's own folder.")
        own = out.with_suffix(".exr")
        own.write_bytes(base64.b64decode(found.group(1)))
        picture = np.array(mitsuba.Bitmap(str(own)))[..., :3].astype(np.float32)
        own.unlink()
        rows, columns = picture.shape[0] // HIGH_PX, picture.shape[1] // WIDE_PX
        small = picture.reshape(HIGH_PX, rows, WIDE_PX, columns, 3).mean(axis=(1, 3))
        made.append(small / np.median(small))
    np.savez_compressed(out, places=np.clip(made, 0, 6e4).astype(np.float16))


@cache
def places(path: Path) -> Floats:
    """The pictures in a file that ``unpack`` wrote."""
    with np.load(path) as stored:
        return stored["places"].astype(np.float32)


def ways(high: int, wide: int) -> Floats:
    """The direction (high, wide, 3) that each cell shows: the middle one ahead of the sitter."""
    up = np.pi / 2 - (np.arange(high) + 0.5) / high * np.pi
    round_ = ((np.arange(wide) + 0.5) / wide * 2 - 1) * np.pi
    return np.stack(
        [
            np.cos(up)[:, None] * np.sin(round_)[None],
            np.repeat(np.sin(up)[:, None], wide, axis=1),
            np.cos(up)[:, None] * np.cos(round_)[None],
        ],
        axis=-1,
    ).astype(np.float32)


def main() -> None:
    """Unpack."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("package", type=Path)
    parser.add_argument("out", type=Path)
    arguments = parser.parse_args()
    unpack(arguments.package, arguments.out)


if __name__ == "__main__":
    main()
