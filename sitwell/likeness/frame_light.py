"""The light that a frame's key and fill put on the head.

Only as good as the light reading: the key is taken as a usual soft one, the fill as coming from
all round, dimmed where the head's own parts stand in its way. The less sure the reading, the less
of it counts.
"""

import numpy as np
from numpy.typing import NDArray

from sitwell.base.rotations import camera_axes, direction_from_angles
from sitwell.head.fit import FittedFrame
from sitwell.head.reading import FrameReading
from sitwell.head.surface import Head
from sitwell.scene.key_maps import draw_maps, light_disc, lights_at
from sitwell.scene.light import key_and_fill

KEY_DISTANCE_MM, KEY_RADIUS_MM, KEY_POINTS = 1500.0, 450.0, 16
SURE_DEG, UNSURE_DEG = 9.0, 18.0  # spreads of the key's direction, and how far it is believed
USUAL_LIGHT = 0.65  # on a face under a usual key and fill
FRONT_COSINE = 0.5
LOWEST_KEY_DEG = -20.0  # nobody lights a face from farther below; such a reading is a mistake

Floats = NDArray[np.float64]


def light_on(
    places: Floats,
    normals: Floats,
    openness: Floats,
    head: Head,
    fitted: FittedFrame,
    frame: FrameReading,
) -> Floats:
    """Light (N,) at places (N, 3) of the head frame; 1 is skin that meets key and fill squarely.

    A frame whose light could not be read is taken as evenly lit.
    """
    reading = frame.light
    even = 0.5 + 0.5 * openness
    if reading is None:
        return USUAL_LIGHT * even
    axes = camera_axes(np.zeros(3), fitted.pose.place_mm) @ fitted.pose.rotation
    towards = direction_from_angles(reading.key_azimuth_deg, reading.key_elevation_deg)
    points = light_disc(KEY_DISTANCE_MM * towards, KEY_RADIUS_MM, KEY_POINTS)
    strengths = np.full(KEY_POINTS, KEY_DISTANCE_MM**2 / KEY_POINTS)
    casters = head.vertices_mm.astype(np.float64) @ axes.T
    lamps, maps = draw_maps(casters, head.triangles, np.zeros(3), points, strengths)
    key_share, fill_share = key_and_fill(reading.fill_ratio)
    key = lights_at(places @ axes.T, normals @ axes.T, lamps, maps)
    belief = (UNSURE_DEG - reading.spread_deg) / (UNSURE_DEG - SURE_DEG)
    belief = min(max(belief, 0.0), 1.0) * (reading.key_elevation_deg > LOWEST_KEY_DEG)
    lit = key_share * key + fill_share * openness
    usual = float(np.median(lit[(normals @ axes.T)[:, 2] > FRONT_COSINE]))
    return usual * even * (1.0 - belief) + belief * lit
