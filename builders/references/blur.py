"""Blur discs of points on invented heads as Mitsuba 3's thin lens draws them, kept for the tests.

Run: python -m builders.references.blur (seconds); writes tests/scene/data/blur_mitsuba.json.
The point is traced through the rim of the lens to the film; its blur is as wide as that ring.
"""

import json
from pathlib import Path
from typing import Any

import mitsuba
import numpy as np
from numpy.typing import NDArray

from builders.references import mitsuba_scene as studio
from builders.references.light import HEADS
from sitwell.head.surface import build_head
from sitwell.scene.lens import image_distance_mm
from sitwell.scene.setup import Setup
from sitwell.scene.view import Observer, View

TARGET = Path(__file__).parents[2] / "tests" / "scene" / "data" / "blur_mitsuba.json"
FIELD_PX, RIM = 1000, 200
POINTS = (
    "nose_tip",
    "iris_own_left",
    "iris_own_right",
    "ear_outer_own_left",
    "ear_outer_own_right",
)
SETUPS: dict[str, dict[str, Any]] = {
    "85 at f/2.5": {"focal_mm": 85, "f_number": 2.5, "distance_mm": 2000, "turn_deg": 25},
    "35 at f/1.8": {"focal_mm": 35, "f_number": 1.8, "distance_mm": 900, "turn_deg": -15},
    "135 at f/2, high": {
        "focal_mm": 135,
        "f_number": 2,
        "distance_mm": 2600,
        "camera_height_mm": 300,
        "turn_deg": 35,
        "tilt_deg": 8,
    },
    "25 at f/1.4, small sensor": {
        "focal_mm": 25,
        "f_number": 1.4,
        "distance_mm": 1100,
        "sensor_width_mm": 17.3,
        "sensor_height_mm": 13.0,
        "turn_deg": 20,
        "chin_deg": 8,
    },
}


def main() -> None:
    """Trace every point of every head in every set-up and write the numbers."""
    mitsuba.set_variant(studio.VARIANT)
    made = {
        "made_by": "builders/references/blur.py",
        "tracer": f"Mitsuba {mitsuba.__version__}, {studio.VARIANT}",
        "heads": HEADS,
        "setups": SETUPS,
        "cases": [
            {"head": head, "setup": setup, "blur_mm": _blurs(Observer(build_head(shape)), changes)}
            for head, shape in HEADS.items()
            for setup, changes in SETUPS.items()
        ],
    }
    TARGET.write_text(json.dumps(made, indent=1) + "\n", encoding="utf-8")


def _blurs(observer: Observer, changes: dict[str, Any]) -> dict[str, float]:
    view = observer.view(Setup(**changes))
    return {name: round(_blur_mm(view, view.point_mm(name)), 4) for name in POINTS}


def _blur_mm(view: View, point_mm: NDArray[np.float64]) -> float:
    """Diameter on the sensor of the speck's blur, focus on the nearer iris."""
    setup, camera = view.setup, view.camera
    focus_mm = min(view.depth_mm(f"iris_{side}") for side in ("own_left", "own_right"))
    x, y, _ = camera.project(point_mm)
    half = 1.2 * max(abs(x), abs(y), 0.05)
    sensor = mitsuba.load_dict(
        studio.camera(camera.lens_mm, camera.axes, half, FIELD_PX)
        | {
            "type": "thinlens",
            "aperture_radius": 0.5 * setup.focal_mm / setup.f_number,
            "focus_distance": focus_mm,
        }
    )
    speck = mitsuba.Interaction3f()
    speck.p = [float(value) for value in point_mm]
    across = [sensor.sample_direction(speck, place)[0].uv[0] for place in _rim()]
    pixel_mm = 2.0 * half / FIELD_PX * image_distance_mm(setup.focal_mm, focus_mm)
    return pixel_mm * float(max(across) - min(across))


def _rim() -> list[tuple[float, float]]:
    """Places on the edge of the unit square, which Mitsuba maps to the aperture's rim."""
    steps = [(i + 0.5) / RIM for i in range(RIM)]
    return [
        place for t in steps for place in ((t, 0.0), (t, 1.0 - 1e-7), (0.0, t), (1.0 - 1e-7, t))
    ]


if __name__ == "__main__":
    main()
