"""Where a move stands and which way it went, as a photographer says it: no sign, no millimetres."""

from collections.abc import Mapping

from sitwell.base.units import distance_words, length_words, plain_number

# Where a move stays: at a value below and above its neutral one, and at the neutral one.
STAYS: Mapping[str, tuple[str, str, str]] = {
    "turn_deg": (
        "the turn stays at {value}° toward your sitter’s own right",
        "the turn stays at {value}° toward your sitter’s own left",
        "the face stays straight on",
    ),
    "chin_deg": (
        "the chin stays {value}° down",
        "the chin stays {value}° up",
        "the chin stays level",
    ),
    "tilt_deg": (
        "the head stays tilted {value}° to your sitter’s own right",
        "the head stays tilted {value}° to your sitter’s own left",
        "the head stays upright",
    ),
    "chin_forward_mm": (
        "the chin stays back by {value}",
        "the chin stays forward by {value}",
        "the chin stays where it is",
    ),
    "camera_height_mm": (
        "the camera stays {value} below the eye line",
        "the camera stays {value} above the eye line",
        "the camera stays at the eye line",
    ),
    "f_number": ("", "the aperture stays at f/{value}", ""),
    "key_azimuth_deg": (
        "the key stays {value}° to camera left",
        "the key stays {value}° to camera right",
        "the key stays in front",
    ),
    "key_elevation_deg": (
        "the key stays {value}° down",
        "the key stays {value}° up",
        "the key stays level with the eyes",
    ),
    "key_distance_mm": ("", "the key stays {value} away", ""),
    "fill_ratio": ("", "the fill stays at {value}:1", ""),
    "background_stops": (
        "the background stays {value} darker than the lit cheek",
        "the background stays {value} brighter than the lit cheek",
        "the background stays as bright as the lit cheek",
    ),
}
# What a move away from straight on is called: where its number fell, and where it rose.
MOVED: Mapping[str, tuple[str, str]] = {
    "turn_deg": (
        "the turn toward your sitter’s own right",
        "the turn toward your sitter’s own left",
    ),
    "chin_deg": ("the lowered chin", "the lifted chin"),
    "tilt_deg": ("the tilt to your sitter’s own right", "the tilt to your sitter’s own left"),
    "chin_forward_mm": ("the chin drawn back", "the chin brought forward"),
    "camera_height_mm": ("the lower camera", "the higher camera"),
    "f_number": ("the wider aperture", "the smaller aperture"),
    "key_azimuth_deg": ("the key at camera left", "the key at camera right"),
    "key_elevation_deg": ("the lower key", "the higher key"),
    "key_distance_mm": ("the nearer key", "the key farther off"),
    "fill_ratio": ("the stronger fill", "the weaker fill"),
    "background_stops": ("the darker background", "the brighter background"),
    "focal_mm": ("the shorter lens", "the longer lens"),
    "crop": ("the whole head in the frame", "the cut into the forehead"),
    "key_size_mm": ("the smaller light", "the larger light"),
}
CENTIMETRES = ("chin_forward_mm",)


def stays_words(move: str, value: float) -> str:
    """Where a move stays, as a clause: "the camera stays 4 cm (2 in) below the eye line"."""
    amount = _amount(move, abs(value))
    neutral = amount == _amount(move, 0.0)
    return STAYS[move][2 if neutral else int(value > 0)].format(value=amount)


def moved_words(move: str, was: float, becomes: float) -> str:
    """What a move away from straight on is called: "the lowered chin"."""
    return MOVED[move][int(becomes > was)]


def _amount(move: str, value: float) -> str:
    if move == "key_distance_mm":
        return distance_words(value)
    if move in CENTIMETRES:
        return f"{plain_number(value / 10.0)} cm"
    if move.endswith("_mm"):
        return length_words(value)
    if move.endswith("_stops"):
        number = plain_number(value)
        return f"{number} stop" if number == "1" else f"{number} stops"
    return plain_number(value, 0 if move.endswith("_deg") else 1)
