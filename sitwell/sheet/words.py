"""What to say to the sitter, in their own left and right, and what to show them.

One move at a time, in the order in which a body follows: feet and body, shoulders,
turn, chin, tilt, eyes, breath. A move that is too small to be made is not spoken, and where the
lens stands is never the sitter's business.
"""

from dataclasses import dataclass

from sitwell.scene.setup import Setup
from sitwell.sheet import sentences as s
from sitwell.sheet.care import needs_rest
from sitwell.sheet.sentences import say

# The natural steps of docs/words.md: up to so many degrees (or mm forward), these words.
TURN_STEPS = (
    (5.0, s.TOUCH),
    (10.5, s.LITTLE),
    (18.0, s.LITTLE_MORE),
    (24.0, s.NEARLY_QUARTER),
    (36.0, s.QUARTER),
    (65.0, s.OVER_QUARTER),
    (float("inf"), s.PROFILE),
)
SMALL_STEPS = ((5.0, s.TOUCH), (10.5, s.LITTLE), (float("inf"), s.LITTLE_MORE))
FORWARD_STEPS = ((12.0, s.TOUCH), (25.0, s.LITTLE), (float("inf"), s.LITTLE_MORE))

# Below these a move is not spoken: half of the smallest step that a body can follow.
LEAST_DEG = 1.5
LEAST_FORWARD_MM = 4.0
# From here the feet and the body take part of the turn, so that the neck has less to do.
BODY_TURNS_FROM_DEG = 20.0
# From here the eyes would have to leave the face to reach the lens.
PROFILE_FROM_DEG = 65.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SitterWord:
    """One move: its part in the order, what to say, and what to show as in a mirror, or ""."""

    part: str
    sentence: str
    show: str = ""


def sitter_words(setup: Setup) -> tuple[SitterWord, ...]:
    """What to say to the sitter, in order, one move at a time."""
    moves = (
        _body(setup),
        SitterWord(part=say(s.SHOULDERS), sentence=say(s.DROP_SHOULDERS)),
        _turn(setup),
        _forward(setup),
        _chin(setup),
        _tilt(setup),
        _eyes(setup),
        _breath(setup),
    )
    return tuple(move for move in moves if move)


def body_turn_deg(setup: Setup) -> float:
    """How far the feet and body are asked to turn, degrees toward the sitter's own left."""
    return setup.turn_deg / 2 if abs(setup.turn_deg) >= BODY_TURNS_FROM_DEG else 0.0


def to_your_side(texts: tuple[str, str], signed: float, **gaps: object) -> str:
    """The sentence for the sitter's own side of a signed amount: positive is their own left."""
    return say(texts[signed > 0], **gaps)


def camera_side(amount: float) -> str:
    """The camera's side of a signed amount: positive is camera right."""
    return say(s.CAMERA_RIGHT if amount > 0 else s.CAMERA_LEFT)


def step_words(amount: float, steps: tuple[tuple[float, str], ...]) -> str:
    """The natural step that comes nearest to an amount of either sign."""
    return say(next(words for limit, words in steps if abs(amount) <= limit))


def _body(setup: Setup) -> SitterWord:
    body_deg, part = body_turn_deg(setup), say(s.FEET_AND_BODY)
    if not body_deg:
        return SitterWord(part=part, sentence=say(s.SETTLE))
    return SitterWord(
        part=part,
        sentence=to_your_side(s.SETTLE_TURNED, body_deg),
        show=say(s.SHOW_BODY, side=camera_side(body_deg)),
    )


def _turn(setup: Setup) -> SitterWord | None:
    if abs(setup.turn_deg) < LEAST_DEG:
        return None
    amount = step_words(setup.turn_deg, TURN_STEPS)
    return SitterWord(
        part=say(s.TURN),
        sentence=to_your_side(s.NOSE_TOWARD, setup.turn_deg, amount=amount),
        show=say(s.SHOW_NOSE, side=camera_side(setup.turn_deg)),
    )


def _forward(setup: Setup) -> SitterWord | None:
    if setup.chin_forward_mm < LEAST_FORWARD_MM:
        return None
    amount = step_words(setup.chin_forward_mm, FORWARD_STEPS)
    return SitterWord(part=say(s.CHIN), sentence=say(s.FOREHEAD_FORWARD, amount=amount))


def _chin(setup: Setup) -> SitterWord | None:
    if abs(setup.chin_deg) < LEAST_DEG:
        return None
    text = s.CHIN_UP if setup.chin_deg > 0 else s.CHIN_DOWN
    amount = step_words(setup.chin_deg, SMALL_STEPS)
    return SitterWord(part=say(s.CHIN), sentence=say(text, amount=amount))


def _tilt(setup: Setup) -> SitterWord | None:
    if abs(setup.tilt_deg) < LEAST_DEG:
        return None
    amount = step_words(setup.tilt_deg, SMALL_STEPS)
    return SitterWord(
        part=say(s.TILT),
        sentence=to_your_side(s.LEAN_HEAD, setup.tilt_deg, amount=amount),
        show=say(s.SHOW_LEAN, side=camera_side(setup.tilt_deg)),
    )


def _eyes(setup: Setup) -> SitterWord:
    away = setup.gaze == "ahead" or abs(setup.turn_deg) > PROFILE_FROM_DEG
    return SitterWord(part=say(s.EYES), sentence=say(s.EYES_AHEAD if away else s.EYES_TO_LENS))


def _breath(setup: Setup) -> SitterWord:
    text = s.BREATHE_AND_REST if needs_rest(setup) else s.BREATHE_AND_STAY
    return SitterWord(part=say(s.BREATH), sentence=say(text))
