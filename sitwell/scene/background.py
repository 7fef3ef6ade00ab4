"""The background as a plain tone, in stops against a lit cheek (0 = as bright)."""

from sitwell.base.units import ratio_from_stops
from sitwell.scene.light import falloff_stops


def background_luminance(background_stops: float) -> float:
    """Luminance relative to a fully lit cheek."""
    return ratio_from_stops(background_stops)


def unlit_background_stops(
    key_distance_mm: float, background_distance_mm: float, tone_stops: float = 0.0
) -> float:
    """Where a background ends up that only the key's spill lights, in stops against a lit cheek.

    ``background_distance_mm`` is from the sitter, straight behind; ``tone_stops`` is how much
    lighter its material is than skin. The key is taken to stand in front of the sitter.
    """
    return tone_stops - falloff_stops(key_distance_mm, key_distance_mm + background_distance_mm)


def background_distance_for_stops(
    key_distance_mm: float, background_stops: float, tone_stops: float = 0.0
) -> float:
    """How far behind the sitter a background must hang to fall to ``background_stops``.

    Inverse of ``unlit_background_stops``; 0 where it would have to be lit on its own.
    """
    reach: float = key_distance_mm * ratio_from_stops((tone_stops - background_stops) / 2.0)
    return max(reach - key_distance_mm, 0.0)
