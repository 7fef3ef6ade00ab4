"""Light on invented heads as Mitsuba 3 traces it, kept as numbers for the tests.

Run: python -m builders.references.light (some minutes on two cores); writes
tests/scene/data/light_mitsuba.json. Direct light alone, then with up to six bounces of skin that
returns half; the nose's shadow as the drop that the nose makes in the key's light.
"""

import json
import math
from pathlib import Path
from typing import Any

import mitsuba
import numpy as np
from numpy.typing import NDArray

from builders.references import mitsuba_scene as studio
from sitwell.head.regions import EYE, FACE, NOSE, Region
from sitwell.head.surface import build_head
from sitwell.scene.lighting import key_place_mm
from sitwell.scene.setup import Setup
from sitwell.scene.view import Observer, View

TARGET = Path(__file__).parents[2] / "tests" / "scene" / "data" / "light_mitsuba.json"
SIDE_PX, SAMPLES, BOUNCED_SAMPLES = 224, 64, 48
FRONT_PX, FRONT_HALF_MM, FRONT_SAMPLES = 240, 80.0, 64
REFLECTANCE, BOUNCES = 0.5, 6
LEAST_PIXELS = 60
LEAST_KEY = 0.1  # skin that hardly faces the key shows no edge
HEADS: dict[str, dict[str, float]] = {
    "mean": {},
    "uneven": {
        "nose_lean": 0.35,
        "nose_length": 0.3,
        "nose_hump": 0.3,
        "ear_wing": 0.4,
        "cheek_bones": 0.3,
        "brow_forward": 0.3,
        "chin_prominence": 0.25,
    },
}
SETUPS: dict[str, dict[str, Any]] = {
    "loop": {"key_azimuth_deg": 35, "key_elevation_deg": 35, "fill_ratio": 3},
    "butterfly": {"key_azimuth_deg": 0, "key_elevation_deg": 45, "fill_ratio": 3, "chin_deg": -4},
    "rembrandt": {
        "key_azimuth_deg": 50,
        "key_elevation_deg": 42,
        "fill_ratio": 4,
        "key_size_mm": 600,
        "key_distance_mm": 1800,
    },
    "split": {"key_azimuth_deg": -85, "key_elevation_deg": 10, "fill_ratio": 6},
    "short": {
        "key_azimuth_deg": 55,
        "key_elevation_deg": 25,
        "fill_ratio": 3,
        "turn_deg": 28,
        "chin_deg": 4,
        "camera_height_mm": -150,
    },
    "broad": {
        "key_azimuth_deg": -40,
        "key_elevation_deg": 30,
        "fill_ratio": 2,
        "turn_deg": 25,
        "tilt_deg": 5,
    },
    "small flash": {
        "key_azimuth_deg": -35,
        "key_elevation_deg": 42,
        "fill_ratio": 8,
        "key_size_mm": 80,
        "key_distance_mm": 2500,
        "turn_deg": -12,
    },
    "large and near": {
        "key_azimuth_deg": 45,
        "key_elevation_deg": 20,
        "fill_ratio": 4,
        "key_size_mm": 1200,
        "key_distance_mm": 1000,
    },
}
SINGLE = (
    "forehead",
    "nose_ridge",
    "nose_side_own_left",
    "nose_side_own_right",
    "cheek_own_left",
    "cheek_own_right",
    "ear_own_left",
    "ear_own_right",
    "chin",
)
FEATURES = {
    **{name: (Region[name.upper()],) for name in SINGLE},
    "under_chin": (Region.UNDER_JAW,),
    **{
        f"eye_{side}": (Region[f"WHITE_{side.upper()}"], Region[f"IRIS_{side.upper()}"])
        for side in ("own_left", "own_right")
    },
}


def main() -> None:
    """Trace every head in every set-up and write the numbers."""
    mitsuba.set_variant(studio.VARIANT)
    made = {
        "made_by": "builders/references/light.py",
        "tracer": f"Mitsuba {mitsuba.__version__}, {studio.VARIANT}",
        "reflectance_with_bounces": REFLECTANCE,
        "bounces": BOUNCES,
        "heads": HEADS,
        "setups": SETUPS,
        "cases": [
            {"head": head, "setup": setup, **_trace(Observer(build_head(shape)), SETUPS[setup])}
            for head, shape in HEADS.items()
            for setup in SETUPS
        ],
    }
    TARGET.write_text(json.dumps(made, indent=1) + "\n", encoding="utf-8")


def _trace(observer: Observer, changes: dict[str, Any]) -> dict[str, Any]:
    view = observer.view(Setup(**changes))
    drawn = view.anatomy.triangles[view.anatomy.drawn_triangles]
    regions = view.anatomy.region[view.anatomy.drawn_triangles]
    x, y, _ = view.camera.project(view.posed_mm[view.anatomy.framed_vertices]).T
    camera = studio.camera(
        view.camera.lens_mm, view.camera.axes, float(np.abs([x, y]).max()), SIDE_PX
    )
    fill = 1.0 / view.setup.fill_ratio
    lights = {"key": studio.key_disc(view.setup, 1.0 - fill), "fill": studio.fill_dome(fill)}
    head = studio.mesh(view.posed_mm, drawn, REFLECTANCE)
    bare = {"type": "scene", "head": head, "camera": camera}
    index = studio.shown(mitsuba.load_dict(bare))
    scenes = [mitsuba.load_dict(bare | {name: light}) for name, light in lights.items()]
    values: dict[str, Any] = {}
    for name, depth, samples in (("direct", 2, SAMPLES), ("bounced", BOUNCES, BOUNCED_SAMPLES)):
        picture = sum(studio.render(scene, depth, samples) for scene in scenes) / REFLECTANCE
        values[name] = _stops(*studio.mean_by_region(picture, index, regions))
    return values | {"nose_shadow_length": _nose_shadow(view)}


def _stops(sums: NDArray[np.float64], pixels: NDArray[np.int64]) -> dict[str, Any]:
    """Face's mean luminance, and each feature's in stops against it where enough of it shows."""
    face = sorted(FACE)
    mean = sums[face].sum() / pixels[face].sum()
    stops = {
        name: round(math.log2(sums[list(parts)].sum() / pixels[list(parts)].sum() / mean), 4)
        for name, parts in FEATURES.items()
        if pixels[list(parts)].sum() >= LEAST_PIXELS
    }
    return {"face": round(float(mean), 4), "stops": stops}


def _nose_shadow(view: View) -> float:
    """How far the nose's shadow reaches from its tip the way it falls, in face heights.

    The head is lit by the key alone with its nose and without; where the nose takes half of the
    light that would arrive lies the shadow's edge.
    """
    anatomy = view.anatomy
    key_mm = view.head_from_studio(key_place_mm(view.setup))
    tip = view.head_from_studio(view.point_mm("nose_tip"))
    nose = np.isin(anatomy.region[anatomy.drawn_triangles], list(NOSE))
    drawn = anatomy.triangles[anatomy.drawn_triangles]
    camera = {
        "type": "orthographic",
        "to_world": studio.to_world(
            np.array([[-1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, -1.0]]) * FRONT_HALF_MM,
            np.array([tip[0], tip[1], 300.0]),
        ),
        "film": studio.film(FRONT_PX, FRONT_PX),
    }
    pictures, indices = [], []
    for chosen in (drawn, drawn[~nose]):
        head = studio.mesh(view.local_mm, chosen, 1.0)
        bare = {"type": "scene", "head": head, "camera": camera}
        indices.append(studio.shown(mitsuba.load_dict(bare)))
        scene = mitsuba.load_dict(bare | {"key": _turned_key(view.setup, key_mm)})
        pictures.append(studio.render(scene, 2, FRONT_SAMPLES))
    catching = np.isin(
        np.append(anatomy.region[anatomy.drawn_triangles], Region.SOCKET)[indices[0]],
        sorted(FACE - NOSE - EYE),
    )
    fall = tip[:2] - key_mm[:2]
    reach_mm = _shadow_end(*pictures, catching, fall / np.linalg.norm(fall))
    return round(reach_mm / anatomy.face_height_mm, 4)


def _turned_key(setup: Setup, key_mm: NDArray[np.float64]) -> dict[str, Any]:
    """The key's disc in the head's own frame, still facing the studio's eye midpoint."""
    distance = float(np.linalg.norm(key_mm))
    towards = key_mm / distance
    near = setup.with_changes(
        key_distance_mm=distance,
        key_azimuth_deg=math.degrees(math.atan2(towards[0], towards[2])),
        key_elevation_deg=math.degrees(math.asin(towards[1])),
    )
    return studio.key_disc(near, 1.0)


def _shadow_end(
    with_nose: NDArray[np.float64],
    without: NDArray[np.float64],
    catching: NDArray[np.bool_],
    fall: NDArray[np.float64],
) -> float:
    """How far from the picture's middle, along ``fall`` (2,), the nose takes half of the key."""
    taken = 1.0 - with_nose / np.maximum(without, 1e-9)
    shaded = catching & (without > LEAST_KEY) & (taken >= 0.5)
    rows, columns = np.mgrid[:FRONT_PX, :FRONT_PX] + 0.5
    pixel_mm = 2.0 * FRONT_HALF_MM / FRONT_PX
    along = (columns - 0.5 * FRONT_PX) * fall[0] - (rows - 0.5 * FRONT_PX) * fall[1]
    return round(pixel_mm * float(along[shaded].max(initial=0.0)), 2)


if __name__ == "__main__":
    main()
