"""A rim light on invented heads as Mitsuba 3 traces it, kept as numbers for the tests.

Run: python -m builders.references.rim (about a minute on two cores); writes
tests/scene/data/rim_mitsuba.json. Direct light alone. Key and fill fall on the head by itself, as
in ``reference_light``; the rim light on head and plain body together, so that each shades the
other.
"""

import json
import math
from pathlib import Path
from typing import Any

import mitsuba
import numpy as np
from numpy.typing import NDArray

from builders.references import mitsuba_scene as studio
from builders.references.light import FEATURES, HEADS, LEAST_PIXELS
from sitwell.head.regions import FACE, Region
from sitwell.head.surface import Head, build_head
from sitwell.scene.bust import AROUND, build_bust
from sitwell.scene.rim_measures import SHOULDER_DROP_MM, SHOULDER_FROM_MM
from sitwell.scene.setup import Setup
from sitwell.scene.view import Observer, View

TARGET = Path(__file__).parents[2] / "tests" / "scene" / "data" / "rim_mitsuba.json"
SIDE_PX, SAMPLES = 512, 64
HALF_WIDTH = 0.16  # tangent at the picture's edge: head and shoulders at two metres
CASES: tuple[tuple[str, dict[str, Any]], ...] = (
    (
        "mean",
        {
            "key_azimuth_deg": -40,
            "key_elevation_deg": 35,
            "fill_ratio": 4,
            "turn_deg": -12,
            "rim": "on",
            "rim_azimuth_deg": 135,
            "rim_elevation_deg": 35,
        },
    ),
    (
        "uneven",
        {
            "key_azimuth_deg": 50,
            "key_elevation_deg": 30,
            "fill_ratio": 6,
            "turn_deg": 20,
            "chin_deg": 5,
            "rim": "on",
            "rim_azimuth_deg": -115,
            "rim_elevation_deg": 25,
            "rim_distance_mm": 1000,
            "rim_size_mm": 600,
            "rim_stops": 1,
        },
    ),
)
LIT_BY_RIM = {**FEATURES, "crown": (Region.SCALP,)}
Array = NDArray[np.float64]


def main() -> None:
    """Trace every case and write the numbers."""
    mitsuba.set_variant(studio.VARIANT)
    made = {
        "made_by": "builders/references/rim.py",
        "tracer": f"Mitsuba {mitsuba.__version__}, {studio.VARIANT}",
        "heads": {head: HEADS[head] for head, _ in CASES},
        "cases": [
            {"head": head, "setup": setup, **_trace(build_head(HEADS[head]), Setup(**setup))}
            for head, setup in CASES
        ],
    }
    TARGET.write_text(json.dumps(made, indent=1) + "\n", encoding="utf-8")


def _trace(head: Head, setup: Setup) -> dict[str, Any]:
    view = Observer(head).view(setup)
    drawn = view.anatomy.triangles[view.anatomy.drawn_triangles]
    body, body_triangles = build_bust(head)
    everything = np.concatenate([drawn, body_triangles + len(view.posed_mm)])
    camera = studio.camera(view.camera.lens_mm, view.camera.axes, HALF_WIDTH, SIDE_PX)
    alone = {"type": "scene", "head": studio.mesh(view.posed_mm, drawn, 1.0), "camera": camera}
    clothed = alone | {
        "head": studio.mesh(np.concatenate([view.posed_mm, body]), everything, 1.0),
    }
    fill = 1.0 / setup.fill_ratio
    lights = (
        (alone, studio.key_disc(setup, 1.0 - fill)),
        (alone, studio.fill_dome(fill)),
        (clothed, studio.key_disc(_rim_as_key(setup), 2.0**setup.rim_stops)),
    )
    key, filled, rim = (_render(scene, light) for scene, light in lights)
    index = studio.shown(mitsuba.load_dict(clothed))
    return _by_region(view, key + filled + rim, rim, index) | {
        "shoulders": _shoulders(body, body_triangles, rim, index - len(drawn))
    }


def _rim_as_key(setup: Setup) -> Setup:
    """The set-up whose key is the rim light, so that one way of building a disc serves both."""
    return setup.with_changes(
        key_azimuth_deg=setup.rim_azimuth_deg,
        key_elevation_deg=setup.rim_elevation_deg,
        key_distance_mm=setup.rim_distance_mm,
        key_size_mm=setup.rim_size_mm,
    )


def _render(scene: dict[str, Any], light: dict[str, Any]) -> Array:
    return studio.render(mitsuba.load_dict(scene | {"light": light}), 2, SAMPLES)


def _by_region(
    view: View, all_light: Array, rim: Array, index: NDArray[np.int64]
) -> dict[str, Any]:
    """All light in stops against the face's, and the rim light's alone against the lit cheek."""
    regions = view.anatomy.region[view.anatomy.drawn_triangles].tolist()
    index = np.where(index < len(regions), index, -1)
    sums, pixels = studio.mean_by_region(all_light, index, regions)
    rim_sums, _ = studio.mean_by_region(rim, index, regions)
    face = sorted(FACE)
    mean = sums[face].sum() / pixels[face].sum()
    shown = {
        name: list(parts)
        for name, parts in LIT_BY_RIM.items()
        if pixels[list(parts)].sum() >= LEAST_PIXELS
    }
    return {
        "stops": {n: _stops(sums[p].sum() / pixels[p].sum() / mean) for n, p in shown.items()},
        "rim": {n: _stops(rim_sums[p].sum() / pixels[p].sum()) for n, p in shown.items()},
    }


def _shoulders(
    body: Array, triangles: NDArray[np.int32], rim: Array, index: NDArray[np.int64]
) -> dict[str, float]:
    """The rim light's mean on either shoulder in view, in stops against the lit cheek."""
    off = body[triangles].mean(axis=1) - body[:AROUND].mean(axis=0)
    is_shoulder = (off[:, 1] > -SHOULDER_DROP_MM) & (np.abs(off[:, 0]) > SHOULDER_FROM_MM)
    seen = index >= 0
    found = {}
    for side, sign in (("own_left", 1.0), ("own_right", -1.0)):
        mine = np.append(is_shoulder & (sign * off[:, 0] > 0.0), False)[np.where(seen, index, -1)]
        found[side] = _stops(float(rim[mine].mean()))
    return found


def _stops(ratio: float) -> float:
    return round(math.log2(max(ratio, 1e-6)), 4)


if __name__ == "__main__":
    main()
