"""What dragging a thing in a plan drawing means for the set-up."""

import math

from sitwell.base.rotations import angles_from_direction
from sitwell.scene.setup import Setup

NEAREST_CAMERA_MM = 500.0


def dragged_above(setup: Setup, thing: str, x_mm: float, z_mm: float) -> dict[str, float]:
    """What changes in a set-up when a thing is dragged to a place of the drawing from above.

    The key keeps its elevation, the camera its height; the camera stays on its own line.
    """
    if thing == "camera":
        level_mm = max(z_mm, NEAREST_CAMERA_MM)
        return {"distance_mm": math.hypot(level_mm, setup.camera_height_mm)}
    azimuth_deg, _ = angles_from_direction((x_mm, 0.0, z_mm if x_mm or z_mm else 1.0))
    level = math.cos(math.radians(setup.key_elevation_deg))
    return {
        "key_azimuth_deg": azimuth_deg,
        "key_distance_mm": math.hypot(x_mm, z_mm) / max(level, 0.1),
    }


def dragged_side(setup: Setup, thing: str, z_mm: float, down_mm: float) -> dict[str, float]:
    """What changes when a thing is dragged as seen from the side; the key's azimuth stays."""
    if thing == "camera":
        level_mm = max(z_mm, NEAREST_CAMERA_MM)
        return {
            "camera_height_mm": -down_mm,
            "distance_mm": math.hypot(level_mm, down_mm),
        }
    share = min(max(-down_mm / setup.key_distance_mm, -1.0), 1.0)
    return {"key_elevation_deg": math.degrees(math.asin(share))}
