"""Measures of the eyes' openings in the picture."""

from sitwell.head.regions import Region
from sitwell.head.surface import SIDES
from sitwell.scene.anatomy import EYE_REGIONS
from sitwell.scene.definitions import SHARE_OF_AREA, SHARE_OF_HEIGHT, Measure, both_sides
from sitwell.scene.raster import facing_area
from sitwell.scene.view import View

MEASURES = (
    *both_sides("eye_open_{}", SHARE_OF_AREA, "Visible white and iris of the {} eye."),
    Measure("eye_balance", "ratio", "Smaller visible opening over the larger, 1 = equal."),
    Measure("eye_size", SHARE_OF_AREA, "Both visible openings together."),
    *both_sides(
        "iris_cover_{}", "ratio", "Share of the {} iris that lids (or the nose) hide, 0 = none."
    ),
    *both_sides(
        "white_below_{}",
        SHARE_OF_HEIGHT,
        "White between the {} iris and the lower lid, negative when the lid covers the iris.",
    ),
)


def eye_measures(view: View) -> tuple[float, ...]:
    """Values in the order of MEASURES."""
    own_left, own_right = (view.area(*regions) for regions in EYE_REGIONS)
    larger = max(own_left, own_right)
    return (
        own_left,
        own_right,
        min(own_left, own_right) / larger if larger > 0 else 1.0,
        own_left + own_right,
        _iris_cover(view, 0, Region.IRIS_OWN_LEFT),
        _iris_cover(view, 1, Region.IRIS_OWN_RIGHT),
        *(
            float(view.v[bottom]) - view.along(f"lid_lower_{side}")
            for side, bottom in zip(SIDES, view.anatomy.iris_bottom, strict=True)
        ),
    )


def _iris_cover(view: View, eye: int, region: Region) -> float:
    triangles = view.anatomy.iris_triangles[eye]
    whole = facing_area(view.anatomy.triangles, view.u, view.v, triangles) / view.face_area
    return min(max(1.0 - view.area(region) / whole, 0.0), 1.0) if whole > 0 else 1.0
