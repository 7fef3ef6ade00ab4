"""What to say to the sitter, in their own left and right, and what to show them.

One move at a time, in the order in which a body follows: feet and body, shoulders,
turn, chin, tilt, eyes, mouth, breath. A move that is too small to be made is not spoken, and where
the lens stands is never the sitter's business.
"""

import math
from collections.abc import Collection
from dataclasses import dataclass

from sitwell.base.units import length_words
from sitwell.scene.setup import Setup
from sitwell.sheet import sentences as s
from sitwell.sheet.care import needs_rest
from sitwell.sheet.sentences import say

# The natural steps of docs/words.md: up to so many degrees (or mm forward), these words.
# A turn beyond them is asked for by something to point the nose at: people turn by 90 degrees, and
# nobody can tell parts of that.
TURN_STEPS = ((5.0, s.TOUCH), (10.5, s.LITTLE))
SMALL_STEPS = ((5.0, s.TOUCH), (10.5, s.LITTLE), (float("inf"), s.LITTLE_MORE))
FORWARD_STEPS = ((12.0, s.TOUCH), (25.0, s.LITTLE), (float("inf"), s.LITTLE_MORE))

# Below these a move is not spoken: half of the smallest step that a body can follow.
LEAST_DEG = 1.5
LEAST_FORWARD_MM = 4.0
PIVOT_BEHIND_EYES_MM = 90.0  # of the neck; a round figure, nobody's
# An arm held out beside the camera (common practice, no source); farther off, a mark is put up.
REACH_MM = 700.0
# The key serves as a mark where it stands within the smallest step of the turn.
KEY_WITHIN_DEG = 3.0
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


def sitter_words(
    setup: Setup, light: str = "", expressions: Collection[str] = ()
) -> tuple[SitterWord, ...]:
    """What to say to the sitter, in order, one move at a time.

    ``light`` is what the key is where it stays, as in a ``PlannedSetup``: nobody is asked to point
    their nose at the sun. ``expressions`` are asked of lids, mouth and breath, as there.
    """
    moves = (
        _body(setup),
        SitterWord(part=say(s.SHOULDERS), sentence=say(s.DROP_SHOULDERS)),
        _turn(setup, light),
        _forward(setup),
        _chin(setup),
        _tilt(setup),
        _eyes(setup),
        _lids(expressions),
        _mouth(expressions),
        _breath(setup, expressions),
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


def is_small_turn(turn_deg: float) -> bool:
    """Whether a turn can be asked for in natural steps, without something to point the nose at."""
    return abs(turn_deg) <= TURN_STEPS[-1][0]


def beside_the_lens_mm(setup: Setup) -> float:
    """How far from the lens a hand or a mark is that the turned nose points at, mm.

    It is as far from the sitter's eyes as the lens, seen from above, so two lengths that can be
    taken with a tape tell its place, and it never stands in the picture. The nose points from the
    pivot of the neck, behind the eyes.
    """
    turn, back_mm = math.radians(setup.turn_deg), PIVOT_BEHIND_EYES_MM
    lens_mm = math.sqrt(setup.distance_mm**2 - setup.camera_height_mm**2)
    ahead_mm = math.sqrt(lens_mm**2 - (back_mm * math.sin(turn)) ** 2) + back_mm * math.cos(turn)
    aside_mm, forward_mm = ahead_mm * math.sin(turn), ahead_mm * math.cos(turn) - back_mm
    return math.hypot(aside_mm, lens_mm - forward_mm)


def _body(setup: Setup) -> SitterWord:
    body_deg, part = body_turn_deg(setup), say(s.FEET_AND_BODY)
    if not body_deg:
        return SitterWord(part=part, sentence=say(s.SETTLE))
    return SitterWord(
        part=part,
        sentence=to_your_side(s.SETTLE_TURNED, body_deg),
        show=say(s.SHOW_BODY, side=camera_side(body_deg)),
    )


def _turn(setup: Setup, light: str) -> SitterWord | None:
    turn_deg = setup.turn_deg
    if abs(turn_deg) < LEAST_DEG:
        return None
    texts, show, amount, beside_mm = s.NOSE_TOWARD, s.SHOW_NOSE, "", 0.0
    if is_small_turn(turn_deg):
        amount = step_words(turn_deg, TURN_STEPS)
    elif not light and abs(setup.key_azimuth_deg - turn_deg) <= KEY_WITHIN_DEG:
        texts, show = s.NOSE_AT_KEY, s.SHOW_KEY
    else:
        beside_mm = beside_the_lens_mm(setup)
        by_hand = beside_mm <= REACH_MM
        texts = s.NOSE_AT_HAND if by_hand else s.NOSE_AT_MARK
        show = s.SHOW_HAND if by_hand else s.SHOW_MARK
    side, length = camera_side(turn_deg), length_words(beside_mm)
    return SitterWord(
        part=say(s.TURN),
        sentence=to_your_side(texts, turn_deg, amount=amount),
        show=say(show, side=side, length=length),
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


def _lids(expressions: Collection[str]) -> SitterWord | None:
    if "lower-lids" not in expressions:
        return None
    return SitterWord(part=say(s.EYES), sentence=say(s.LOWER_LIDS), show=say(s.SHOW_LIDS))


def _mouth(expressions: Collection[str]) -> SitterWord | None:
    texts = {"half-smile": s.HALF_SMILE, "mouth-at-rest": s.MOUTH_AT_REST}
    asked = next((text for name, text in texts.items() if name in expressions), None)
    return None if asked is None else SitterWord(part=say(s.MOUTH), sentence=say(asked))


def _breath(setup: Setup, expressions: Collection[str]) -> SitterWord:
    slowly = "slow-breath" in expressions
    text = s.BREATHE_SLOWLY if slowly else s.BREATHE_AND_STAY
    return SitterWord(
        part=say(s.BREATH),
        sentence=say(s.BREATHE_AND_REST if needs_rest(setup) else text),
        show=say(s.SHOW_BREATH) if slowly else "",
    )
