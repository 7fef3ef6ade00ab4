"""Moves and their values, wishes, gains and guards in the words of the pages."""

from collections.abc import Iterable, Mapping

from sitwell.base.units import small_words
from sitwell.scene.setup import Setup
from sitwell.search.plan import Gain, GuardState
from sitwell.sheet.names import is_yes_or_no, measure_name, measure_value, why_words, wish_name
from sitwell.sheet.page import NOTICE
from sitwell.sheet.settings import pattern_words
from sitwell.ui.web.wording import degrees, length, mark, number, t

SETUPS = {
    "gentle": mark("Gentle"),
    "balanced": mark("Balanced"),
    "strong": mark("Strong"),
    "another": mark("Another way"),
}
GIST = {
    "gentle": mark("the smallest change that helps"),
    "balanced": mark("the middle way"),
    "strong": mark("the most that still holds"),
    "another": mark("about as good, done differently"),
}
MOVES = {
    "turn_deg": mark("Turn"),
    "chin_deg": mark("Chin"),
    "tilt_deg": mark("Tilt"),
    "chin_forward_mm": mark("Chin forward"),
    "camera_height_mm": mark("Lens height"),
    "distance_mm": mark("Distance"),
    "focal_mm": mark("Focal length"),
    "f_number": mark("Aperture"),
    "key_azimuth_deg": mark("Key, round"),
    "key_elevation_deg": mark("Key, up"),
    "key_distance_mm": mark("Key, distance"),
    "fill_ratio": mark("Fill"),
    "background_stops": mark("Background tone"),
    "crop": mark("Crop"),
    "key_size_mm": mark("Light"),
}
# (for a positive value, for a negative one)
SIDES = {
    "turn_deg": (mark("{amount} to their left"), mark("{amount} to their right")),
    "tilt_deg": (mark("{amount} to their left"), mark("{amount} to their right")),
    "chin_deg": (mark("{amount} up"), mark("{amount} down")),
    "camera_height_mm": (mark("{amount} above the eyes"), mark("{amount} below the eyes")),
    "key_azimuth_deg": (mark("{amount} camera right"), mark("{amount} camera left")),
    "key_elevation_deg": (mark("{amount} up"), mark("{amount} down")),
    "background_stops": (mark("{amount} brighter"), mark("{amount} darker")),
}
ZERO = {
    "turn_deg": mark("straight on"),
    "tilt_deg": mark("upright"),
    "chin_deg": mark("level"),
    "chin_forward_mm": mark("at rest"),
    "camera_height_mm": mark("at the eye line"),
    "key_azimuth_deg": mark("over the lens"),
    "key_elevation_deg": mark("level with the eyes"),
    "background_stops": mark("as bright as the cheek"),
}
POSE = ("turn_deg", "chin_deg", "tilt_deg", "chin_forward_mm")


def span_words(move: str, low: float, high: float) -> str:
    """The two ends of a range of a move; a range of no width is one value."""
    first, last = value_words(move, low), value_words(move, high)
    return first if first == last else t("{low} to {high}", low=first, high=last)


def setup_name(name: str) -> str:
    """A planned set-up's name."""
    return t(SETUPS.get(name, name))


def move_name(move: str) -> str:
    """A move's name."""
    return t(MOVES.get(move, move))


def value_words(move: str, value: float) -> str:
    """A move's value with unit and side; a value that rounds to nothing has its own words."""
    amount = _amount(move, abs(value) if move in SIDES else value)
    if move in ZERO and amount == _amount(move, 0.0):
        return t(ZERO[move])
    if move in SIDES:
        return t(SIDES[move][value < 0], amount=amount)
    return amount


def pose_words(setup: Setup) -> str:
    """What the sitter does, in a line; moves that are not made are left out."""
    made = [
        f"{move_name(move)} {value_words(move, getattr(setup, move))}"
        for move in POSE
        if _amount(move, getattr(setup, move)) != _amount(move, 0.0)
    ]
    return ", ".join(made) or t("Straight on, level")


def camera_words(setup: Setup) -> str:
    """Lens, aperture and distance in a line."""
    parts = [_amount("focal_mm", setup.focal_mm), _amount("f_number", setup.f_number)]
    return t("{lens} at {aperture}, {distance}", lens=parts[0], aperture=parts[1],
             distance=length(setup.distance_mm))  # fmt: skip


def light_words(measures: Mapping[str, float], setup: Setup, *, why: bool = False) -> str:
    """What the light is called, and by what if asked; empty where it has no name."""
    for row in pattern_words(measures, setup.fill_ratio):
        return f"{row.value} – {row.note}" if why else row.value
    return ""


def best_gains(gains: Iterable[Gain]) -> Mapping[str, Gain]:
    """For each wish the measure that tells most of it."""
    best: dict[str, Gain] = {}
    for gain in gains:
        if gain.wish not in best or abs(gain.gain) > abs(best[gain.wish].gain):
            best[gain.wish] = gain
    return best


def wish_words(wish: str) -> str:
    """A wish's name."""
    return wish_name(wish)


def wish_title(wish: str) -> str:
    """A wish's name by itself, as a button or a heading."""
    name = wish_name(wish)
    return name[:1].upper() + name[1:]


def notice_words(gain: Gain) -> str:
    """How much of a gain a viewer would notice."""
    return t(next(text for limit, text in NOTICE if gain.gain < limit))


def is_against(gain: Gain) -> bool:
    """Whether a viewer would notice it as a turn against the wish."""
    return gain.gain < NOTICE[0][0]


def measure_words(measure: str) -> str:
    """A measure's name."""
    return measure_name(measure)


def reading_words(measure: str, value: float) -> str:
    """A measure's value."""
    return measure_value(measure, value)


def axis_words(measure: str, value: float) -> str:
    """A measure's value at an axis, where a few letters have room."""
    return f"{number(value)} ×" if measure.endswith("_coc") else reading_words(measure, value)


def guard_words(guard: GuardState) -> str:
    """A guard's name."""
    return why_words(guard.name)


def guard_detail(guard: GuardState) -> str:
    """Where a guard stands and where it must be."""
    if is_yes_or_no(guard.measure):
        return t("must be there") if guard.must_be == "at least" else t("must not be there")
    limit = measure_value(guard.measure, guard.limit)
    value = measure_value(guard.measure, guard.value)
    text = t("{value}; at least {limit}") if guard.must_be == "at least" else t(
        "{value}; at most {limit}"
    )  # fmt: skip
    return text.format(value=value, limit=limit)


def _amount(move: str, value: float) -> str:
    if move == "focal_mm":
        return f"{number(value, 0)} mm"
    if move == "chin_forward_mm":
        return small_words(value)
    if move == "f_number":
        return f"f/{number(value)}"
    if move == "fill_ratio":
        return f"{number(value)} : 1"
    if move.endswith("_deg"):
        return degrees(value)
    if move.endswith("_stops"):
        return t("{stops} stops", stops=number(value))
    return length(value)
