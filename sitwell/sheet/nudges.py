"""One nudge in words, while the sitter holds the pose or the assistant stands at the light."""

from sitwell.base.errors import SheetError
from sitwell.base.units import length_words, plain_number, stops_words
from sitwell.base.words import tr
from sitwell.sheet import sentences as s
from sitwell.sheet.sentences import mark, say
from sitwell.sheet.words import (
    FORWARD_STEPS,
    LEAST_DEG,
    LEAST_FORWARD_MM,
    SMALL_STEPS,
    TURN_STEPS,
    camera_side,
    is_small_turn,
    step_words,
    to_your_side,
)

GO_ROUND = mark("Go round the sitter {amount}° toward {side}, and let the sitter turn with you.")
SITTER_MOVES = ("turn_deg", "chin_deg", "tilt_deg", "chin_forward_mm")
# To the photographer: the move, what is too little to speak of, the sentence for more and for less.
STUDIO_MOVES = {
    "camera_height_mm": (10.0, s.LENS_UP, s.LENS_DOWN),
    "distance_mm": (20.0, s.STEP_BACK, s.STEP_IN),
    "focal_mm": (0.5, s.LONGER_LENS, s.SHORTER_LENS),
    "f_number": (0.05, s.CLOSE_APERTURE, s.OPEN_APERTURE),
    "key_azimuth_deg": (2.5, s.KEY_TOWARD, s.KEY_TOWARD),
    "key_elevation_deg": (2.5, s.KEY_UP, s.KEY_DOWN),
    "key_distance_mm": (20.0, s.KEY_AWAY, s.KEY_NEARER),
    "key_size_mm": (20.0, s.KEY_LARGER, s.KEY_SMALLER),
    "fill_ratio": (0.05, s.LESS_FILL, s.MORE_FILL),
    "background_stops": (0.05, s.BACKGROUND_BRIGHTER, s.BACKGROUND_DARKER),
    "background_distance_mm": (20.0, s.BACKGROUND_AWAY, s.BACKGROUND_NEARER),
}


def nudge_words(move: str, difference: float, *, stays: bool = False) -> str:
    """One sentence that brings a move to its target, or "" where it is too small to speak of.

    ``move`` is a set-up's quantity by name; ``difference`` is target minus now in its unit, so a
    positive turn is still to be made toward the sitter's own left. A light that ``stays`` is gone
    round. Raises SheetError for a quantity that nobody can be asked to move.
    """
    if move in SITTER_MOVES:
        least = LEAST_FORWARD_MM if move == "chin_forward_mm" else LEAST_DEG
        return "" if abs(difference) < least else _to_the_sitter(move, difference)
    if move in STUDIO_MOVES:
        least, more, less = STUDIO_MOVES[move]
        text = more if difference > 0 else less
        if stays and move == "key_azimuth_deg":
            # The camera goes to its left for the light to come more from its right.
            text, difference = GO_ROUND, -difference
        return "" if abs(difference) < least else _to_the_photographer(move, text, difference)
    known = ", ".join((*SITTER_MOVES, *STUDIO_MOVES))
    raise SheetError(
        tr(
            "There are no words for moving '{move}'; give one of {known}.",
            move=move,
            known=known,
        )
    )


def _to_the_sitter(move: str, difference: float) -> str:
    if move == "turn_deg" and not is_small_turn(difference):
        return to_your_side(s.NUDGE_NOSE_ON, difference)
    if move == "turn_deg":
        amount = step_words(difference, TURN_STEPS)
        return to_your_side(s.NUDGE_NOSE, difference, amount=amount)
    if move == "tilt_deg":
        amount = step_words(difference, SMALL_STEPS)
        return to_your_side(s.NUDGE_LEAN, difference, amount=amount)
    if move == "chin_deg":
        text = s.NUDGE_CHIN_UP if difference > 0 else s.NUDGE_CHIN_DOWN
        return say(text, amount=step_words(difference, SMALL_STEPS))
    text = s.NUDGE_FORWARD if difference > 0 else s.NUDGE_BACK
    return say(text, amount=step_words(difference, FORWARD_STEPS))


def _to_the_photographer(move: str, text: str, difference: float) -> str:
    digits = 0 if move.endswith(("_deg", "_mm")) else 1
    amount = plain_number(abs(difference), digits)
    return say(
        text,
        amount=amount,
        stops=stops_words(abs(difference)),
        length=length_words(abs(difference)),
        side=camera_side(difference),
    )
