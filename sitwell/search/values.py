"""Where a move stands and which way it went, as a photographer says it: no sign, no millimetres."""

from collections.abc import Mapping

from sitwell.base.units import (
    distance_words,
    length_words,
    plain_number,
    small_words,
    stops_words,
)
from sitwell.base.words import mark, tr

# Where a move stays: at a value below and above its neutral one, and at the neutral one.
STAYS: Mapping[str, tuple[str, str, str]] = {
    "turn_deg": (
        mark("the turn stays at {value}° toward your sitter’s own right"),
        mark("the turn stays at {value}° toward your sitter’s own left"),
        mark("the face stays straight on"),
    ),
    "chin_deg": (
        mark("the chin stays {value}° down"),
        mark("the chin stays {value}° up"),
        mark("the chin stays level"),
    ),
    "tilt_deg": (
        mark("the head stays tilted {value}° to your sitter’s own right"),
        mark("the head stays tilted {value}° to your sitter’s own left"),
        mark("the head stays upright"),
    ),
    "chin_forward_mm": (
        mark("the chin stays back by {value}"),
        mark("the chin stays forward by {value}"),
        mark("the chin stays where it is"),
    ),
    "camera_height_mm": (
        mark("the camera stays {value} below the eye line"),
        mark("the camera stays {value} above the eye line"),
        mark("the camera stays at the eye line"),
    ),
    "f_number": ("", mark("the aperture stays at f/{value}"), ""),
    "key_azimuth_deg": (
        mark("the key stays {value}° to camera left"),
        mark("the key stays {value}° to camera right"),
        mark("the key stays in front"),
    ),
    "key_elevation_deg": (
        mark("the key stays {value}° down"),
        mark("the key stays {value}° up"),
        mark("the key stays level with the eyes"),
    ),
    "key_distance_mm": ("", mark("the key stays {value} away"), ""),
    "fill_ratio": ("", mark("the fill stays at {value}:1"), ""),
    "background_stops": (
        mark("the background stays {value} darker than the lit cheek"),
        mark("the background stays {value} brighter than the lit cheek"),
        mark("the background stays as bright as the lit cheek"),
    ),
}
# What a move away from straight on is called: where its number fell, and where it rose.
MOVED: Mapping[str, tuple[str, str]] = {
    "turn_deg": (
        mark("the turn toward your sitter’s own right"),
        mark("the turn toward your sitter’s own left"),
    ),
    "chin_deg": (mark("the lowered chin"), mark("the lifted chin")),
    "tilt_deg": (
        mark("the tilt to your sitter’s own right"),
        mark("the tilt to your sitter’s own left"),
    ),
    "chin_forward_mm": (mark("the chin drawn back"), mark("the chin brought forward")),
    "camera_height_mm": (mark("the lower camera"), mark("the higher camera")),
    "f_number": (mark("the wider aperture"), mark("the smaller aperture")),
    "key_azimuth_deg": (mark("the key at camera left"), mark("the key at camera right")),
    "key_elevation_deg": (mark("the lower key"), mark("the higher key")),
    "key_distance_mm": (mark("the nearer key"), mark("the key farther off")),
    "fill_ratio": (mark("the stronger fill"), mark("the weaker fill")),
    "background_stops": (mark("the darker background"), mark("the brighter background")),
    "focal_mm": (mark("the shorter lens"), mark("the longer lens")),
    "crop": (mark("the whole head in the frame"), mark("the cut into the forehead")),
    "key_size_mm": (mark("the smaller light"), mark("the larger light")),
}


def stays_words(move: str, value: float) -> str:
    """Where a move stays, as a clause: "the camera stays 4 cm (2 in) below the eye line"."""
    amount = _amount(move, abs(value))
    neutral = amount == _amount(move, 0.0)
    return tr(STAYS[move][2 if neutral else int(value > 0)], value=amount)


def moved_words(move: str, was: float, becomes: float) -> str:
    """What a move away from straight on is called: "the lowered chin"."""
    return tr(MOVED[move][int(becomes > was)])


def _amount(move: str, value: float) -> str:
    if move == "key_distance_mm":
        return distance_words(value)
    if move == "chin_forward_mm":
        return small_words(value)
    if move.endswith("_mm"):
        return length_words(value)
    if move.endswith("_stops"):
        return stops_words(value)
    return plain_number(value, 0 if move.endswith("_deg") else 1)
