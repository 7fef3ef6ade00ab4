"""The things that can be wrong with a frame, one small check each, in the order of fixing.

The limits here are our own choices unless a source stands beside them. Every check gives the
sentence for the photographer and, apart from it, what to say or do: a screen that the sitter
sees shows the second only.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

from sitwell.base.words import mark, number, tr
from sitwell.sheet.words import camera_side
from sitwell.shoot.drift import BEGINS, ENDS, drifts_of
from sitwell.shoot.frame_facts import HALF_BLINK, SIDES, Expected, Sight

BLINK = 0.35  # of the sitter's own usual opening, as HALF_BLINK is
# Near eye against the same eye at its sharpest in the burst. On 18 sittings of rendered heads sharp
# eyes stay above 0.80, and those blurred by a 1000th of the picture's height below 0.71.
SOFT = 0.75
LEAST_DETAIL = 0.2  # of the near eye's: a place with less has nothing in it to be sharp
HYSTERESIS = 0.1  # of a ratio: what was spoken of is dropped when it is this much better
GAZE_DEG = 15.0  # off the usual; one reading errs by about 5 across, and by more up and down
KEY_SIDE_STOPS = 0.3
KEY_BRING_ROUND = mark("Bring the key round to {side}.")
KEY_GO_ROUND = mark("Go round with the camera until the light is at {side}.")
EAR_STOPS = -0.7  # an ear this much darker than what is behind it; one reading errs by about 0.4
BROW_AIR = 1.12  # of chin to brow: a cut lower than this cuts into the brows
CHIN_AIR = -0.12
CLIPPED_SHARE = 0.01
GLARE_SHARE = 0.06
FLAT = 0.5
KEPT = 0.9  # the leeway's own measure: a tenth of the gain may be lost
LEAST_GAIN = 0.75  # in steps that a viewer notices: what is less can't be lost
LEAST_LIT_SIDE = 0.2
PART_KEPT = mark("{share}% of what was wished for is kept; {move} has moved most.")
NOTHING_KEPT = mark("What was wished for is lost in this frame; {move} has moved most.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing to fix; ``need`` is 1 where it begins to matter and grows with it."""

    name: str
    need: float
    sentence: str
    say: str


Check = Callable[[Sight, Expected], Finding | None]
BOTH = "both"
CLOSED = {
    BOTH: mark("Both eyes are closed against the sitter's usual."),
    "own_left": mark("The own left eye is closed against the sitter's usual."),
    "own_right": mark("The own right eye is closed against the sitter's usual."),
}
HALF_CLOSED = {
    BOTH: mark("Both eyes are half closed against the sitter's usual."),
    "own_left": mark("The own left eye is half closed against the sitter's usual."),
    "own_right": mark("The own right eye is half closed against the sitter's usual."),
}
SOFTER = {
    "": mark("The near eye is softer than in other frames of this burst."),
    "far_eye": mark(
        "The near eye is softer than in other frames of this burst; the far eye is sharper."
    ),
    "ear": mark("The near eye is softer than in other frames of this burst; the ear is sharper."),
    "background": mark(
        "The near eye is softer than in other frames of this burst; the background is sharper."
    ),
}
# (for a positive angle, for a negative one)
LOOK_ACROSS = (
    mark("The eyes look past the lens, to camera right."),
    mark("The eyes look past the lens, to camera left."),
)
AT_REST = {
    "lively-eyes": (
        mark("The lower lids are slacker than usual for this sitter."),
        mark("A little tension in the lower lids."),
    ),
    "smile": (
        mark("The mouth smiles less than usual for this sitter."),
        mark("A breath in, and a little smile."),
    ),
    BOTH: (
        mark("Lids and mouth are more at rest than usual for this sitter."),
        mark("A breath in, and a little life in the lower lids."),
    ),
}
LOOK_UP = (mark("The eyes look above the lens."), mark("The eyes look below the lens."))
BEHIND_EAR = {
    "own_left": mark("What is behind the own left ear is {stops} stops brighter than it."),
    "own_right": mark("What is behind the own right ear is {stops} stops brighter than it."),
}
MIRRORS = {
    "own_left": mark("A light mirrors in the own left pane of the glasses."),
    "own_right": mark("A light mirrors in the own right pane of the glasses."),
}


def no_face() -> Finding:
    """What there is to say where nobody is found."""
    return Finding(
        name="no-face",
        need=2.0,
        sentence=tr("No face was found in this frame."),
        say=tr("Face to the lens."),
    )


def eye_ratios(sight: Sight, expected: Expected) -> dict[str, float]:
    """Each eye's opening over the sitter's own usual; only eyes that can be seen and compared."""
    usual = expected.baseline.eye_open if expected.baseline else {}
    return {
        side: sight.eye_open[side] / usual[side]
        for side in SIDES
        if math.isfinite(sight.eye_open.get(side, math.nan)) and usual.get(side, 0.0) > 0
    }


def focus_ratio(sight: Sight, expected: Expected) -> float | None:
    """The near eye's sharpness over the sharpest it was in the burst."""
    best, value = expected.focus_best.get("near_eye"), sight.focus.get("near_eye")
    return value / best if best and value is not None else None


def wish_kept(sight: Sight, expected: Expected) -> float | None:
    """The least share of any planned gain that the frame still has; below 0 it made it worse.

    What the plan gives up for the wish is no gain and does not count.
    """
    gains = expected.planned.gains if expected.planned else ()
    shares = [
        (sight.measures[g.measure] - g.was) / (g.becomes - g.was)
        for g in gains
        if g.measure in sight.measures and g.gain >= LEAST_GAIN and g.becomes != g.was
    ]
    finite = [share for share in shares if math.isfinite(share)]
    return min(finite) if finite else None


def _blink(sight: Sight, expected: Expected) -> Finding | None:
    ratios = eye_ratios(sight, expected)
    side, ratio = min(ratios.items(), key=lambda item: item[1], default=("", 1.0))
    shut = [s for s, r in ratios.items() if r < HALF_BLINK]
    which = BOTH if len(shut) > 1 else side or BOTH
    return _found(
        "blink" if ratio < BLINK else "half-blink",
        1.0 + (HALF_BLINK - ratio) / (2 * HYSTERESIS),
        (CLOSED if ratio < BLINK else HALF_CLOSED)[which],
        mark("One more, eyes to the lens."),
    )


def _focus(sight: Sight, expected: Expected) -> Finding | None:
    ratio = focus_ratio(sight, expected)
    if ratio is None or eye_ratios(sight, expected).get(sight.near_eye, 1.0) < HALF_BLINK:
        return None  # a closed eye has less to be sharp than an open one
    others = {
        place: sight.focus[place] / best
        for place, best in expected.focus_best.items()
        if place in SOFTER
        and place in sight.focus
        and best > LEAST_DETAIL * expected.focus_best["near_eye"]
    }
    sharpest = max(others, key=lambda place: others[place], default="")
    sharper = sharpest if sharpest and others[sharpest] > ratio / SOFT else ""
    return _found(
        "focus",
        1.0 + (SOFT - ratio) / (2 * HYSTERESIS),
        SOFTER[sharper],
        mark("Focus on the near eye."),
    )


def _gaze(sight: Sight, expected: Expected) -> Finding | None:
    """Eyes away from where they usually look: the lens, unless the plan leaves them ahead."""
    usual = expected.baseline.gaze_deg if expected.baseline else None
    if usual is None or sight.gaze_deg is None:
        return None
    if expected.planned is not None and expected.planned.setup.gaze != "lens":
        return None
    if eye_ratios(sight, expected).get(sight.near_eye, 1.0) < HALF_BLINK:
        return None  # the lid lies over the iris
    across, up = (now - was for now, was in zip(sight.gaze_deg, usual, strict=True))
    text = LOOK_ACROSS[across <= 0] if abs(across) > abs(up) else LOOK_UP[up <= 0]
    return _found(
        "gaze",
        math.hypot(across, up) / GAZE_DEG,
        text,
        mark("Eyes to the lens."),
    )


def _guard(name: str, measure: str, sentence: str, say: str) -> Check:
    """A check of the plan's own guards on one measure."""

    def check(sight: Sight, expected: Expected) -> Finding | None:
        worst = None
        for state in expected.planned.guards if expected.planned else ():
            value = sight.measures.get(state.measure, math.nan)
            if state.measure.startswith(measure) and math.isfinite(value):
                over = value - state.limit if state.must_be == "at most" else state.limit - value
                room = abs(state.value - state.limit)
                room = room if room > 0 else abs(state.limit) or 1.0  # also when it is no number
                worst = max(over / room, worst or -math.inf)
        return None if worst is None else _found(name, 1.0 + worst, sentence, say)

    return check


def _far_ear(sight: Sight, expected: Expected) -> Finding | None:
    """A sliver of the far ear; the way out is the plan's turn, which hides that ear or shows it."""
    planned = expected.planned.setup.turn_deg if expected.planned else math.inf
    too_far = abs(sight.moves.get("turn_deg", 0.0)) > abs(planned)
    return _guard(
        "ear-sliver",
        "ear_sliver",
        mark("The far ear shows as a sliver."),
        mark("A touch less turn.") if too_far else mark("A touch more turn."),
    )(sight, expected)


def _wish(sight: Sight, expected: Expected) -> Finding | None:
    kept = wish_kept(sight, expected)
    outside = [d for d in drifts_of(sight, expected.planned) if d.need >= BEGINS]
    if kept is None or kept >= KEPT or not outside:
        return None
    worst, share = max(outside, key=lambda drift: drift.need), round(100.0 * kept)
    return _found(
        "wish",
        1.0 + (KEPT - kept),
        PART_KEPT if share >= 1 else NOTHING_KEPT,
        mark("Mind {move}."),
        share=number(share, 0),
        move=worst.words(),
    )


def _key_side(sight: Sight, expected: Expected) -> Finding | None:
    if expected.planned is None:
        return None
    wanted = expected.planned.measures.get("lit_side")
    if wanted is None or sight.lit_stops is None or abs(wanted) < LEAST_LIT_SIDE:
        return None
    if any(w.move == "key_azimuth_deg" and w.low < 0 < w.high for w in expected.planned.leeway):
        return None  # the plan lets the key stand on either side
    side = camera_side(wanted)
    return _found(
        "key-side",
        -math.copysign(1.0, wanted) * sight.lit_stops / KEY_SIDE_STOPS,
        mark("The key falls on the other side of the face; it was planned from {side}."),
        KEY_GO_ROUND if expected.planned.light else KEY_BRING_ROUND,
        side=side,
    )


def _ear_background(sight: Sight, expected: Expected) -> Finding | None:
    if "ears" not in expected.asked or not sight.ear_stops:
        return None
    side, stops = min(sight.ear_stops.items(), key=lambda item: item[1])
    return _found(
        "ear-background",
        stops / EAR_STOPS,
        BEHIND_EAR[side],
        mark("Less light on the background, or more room before it."),
        stops=number(-stops, whole=True),
    )


def _crop(sight: Sight, expected: Expected) -> Finding | None:
    top, bottom = (sight.heights.get(edge, math.nan) for edge in ("top", "bottom"))
    hairline, crown = (sight.heights.get(h, math.nan) for h in ("hairline", "crown"))
    if top < BROW_AIR:
        cut, cure = mark("The frame cuts into the brows."), mark("Give air above the brows.")
        return _found("crop", 1.5, cut, cure)
    if bottom > CHIN_AIR:
        cut, cure = mark("The frame cuts the chin."), mark("Give room below the chin.")
        return _found("crop", 1.5, cut, cure)
    if hairline - 0.05 < top < crown:
        return _found(
            "crop",
            1.2,
            mark("The frame cuts between the hairline and the top of the head."),
            mark("Take in the whole head, or come in below the hairline."),
        )
    return None


def _highlights(sight: Sight, expected: Expected) -> Finding | None:
    share = sight.skin_clipped or 0.0
    return _found(
        "highlights",
        share / CLIPPED_SHARE,
        mark("{share}% of the skin is burnt out."),
        mark("A little less exposure."),
        share=number(100.0 * share, whole=True),
    )


def _glare(sight: Sight, expected: Expected) -> Finding | None:
    if not expected.glasses or not sight.glare:
        return None
    side, share = max(sight.glare.items(), key=lambda item: item[1])
    return _found(
        "glare",
        share / GLARE_SHARE,
        MIRRORS[side],
        mark("Your chin down a touch, or the key higher."),
    )


def _expression(sight: Sight, expected: Expected) -> Finding | None:
    """What was asked for, the lids' tension or the smile, against the sitter's own usual."""
    rest = expected.baseline
    if rest is None:
        return None
    pairs = {
        "lively-eyes": (sight.squint, rest.squint),
        "smile": (sight.smile, rest.smile),
    }
    shares = {
        wish: value / usual
        for wish, (value, usual) in pairs.items()
        if wish in expected.asked and value is not None and usual
    }
    if not shares:
        return None
    flattest = min(shares, key=lambda wish: shares[wish])
    flat = [wish for wish, share in shares.items() if share < FLAT]
    sentence, say = AT_REST[BOTH if len(flat) > 1 else flattest]
    return _found("expression", 1.0 + FLAT - shares[flattest], sentence, say)


# The order of fixing, after a missing face.
CHECKS: tuple[Check, ...] = (
    _blink,
    _focus,
    _gaze,
    _guard(
        "nose-break",
        "nose_break",
        mark("The nose reaches the edge of the far cheek, the lip or the eye socket."),
        mark("A touch less turn."),
    ),
    _far_ear,
    _guard(
        "nostrils",
        "nostril_show",
        mark("The nostrils show more than the plan allows."),
        mark("Your chin down a touch, or the lens higher."),
    ),
    _wish,
    _key_side,
    _ear_background,
    _crop,
    _highlights,
    _glare,
    _expression,
)


def _found(name: str, need: float, sentence: str, say: str, /, **gaps: object) -> Finding | None:
    """A finding, told only where it comes near to mattering; else None."""
    if not need >= ENDS:  # also when it is no number
        return None
    return Finding(name=name, need=need, sentence=tr(sentence, **gaps), say=tr(say, **gaps))
