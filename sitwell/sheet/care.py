"""Care notes: what to ask, and what to mind, where this set-up could hurt somebody.

No published safe angle or holding time for the neck was found; every threshold here is our own
design choice, set low so that the question comes early.
"""

import math
from dataclasses import dataclass

from sitwell.base.errors import SheetError
from sitwell.base.words import tr
from sitwell.scene.rim import needs_boom
from sitwell.scene.setup import Setup
from sitwell.scene.sun_words import NOBODY
from sitwell.sheet.sentences import mark, say

# Design choices, not medical limits (see the module docstring).
CHIN_UP_NO_HOLD_DEG = 6.0
TURN_NO_HOLD_DEG = 25.0
LENS_NEEDS_A_STEP_MM = 300.0
KEY_OVERHEAD_MM = 700.0
LIGHTS = ("", "flash", "lamp", "window", "sun", "shade")

NECK = mark(
    "Ask about neck pain and dizziness first. No long holds: a few frames, then rest; stop on "
    "pain, dizziness or a change of sight."
)
BREATH = mark("Never hold the breath for the picture: the frame comes as the breath goes.")
FLASH = mark(
    "Before any flash, ask about photosensitive epilepsy and migraine; if so, use steady light. "
    "No rapid repeated flashing."
)
PERHAPS_FLASH = mark(
    "If it is flash, first ask about photosensitive epilepsy and migraine; if so, use steady "
    "light. No rapid repeated flashing."
)
LAMPS = mark(
    "No bare modelling lamp or laser close to the eyes. Lamps get hot: let them cool, keep hands "
    "and floor dry."
)
STANDS = mark("Sandbag the stands, tape the cables, keep the exits clear.")
OVERHEAD = mark(
    "The key hangs high: sandbag stand and boom, add a safety tether, tape the cables, keep the "
    "exits clear."
)
RIM_BOOM = mark(
    "The rim light hangs over the sitter’s back: counterweight the boom, sandbag its stand, tether "
    "the lamp, and swing it in only once the sitter sits and knows of it."
)
RIM_STAND = mark(
    "A lamp stands behind the sitter: sandbag it, lead its cable away, and tell the sitter before "
    "they step back."
)
WINDOW = mark(
    "By a window, mind the sun’s heat and glare, and keep sitter and stands off the sill."
)
SUN = mark(
    "Shade, water and sun cream for everybody, and breaks: no long waits in heat, cold or glare."
)
OUTDOORS = mark(
    "Wind takes stands and reflectors: have them held, or weighted. Mind ground, water, traffic "
    "and thunder; no flash or reflector toward drivers."
)
STEP = mark("For this lens height, stand on a firm step made for it.")
MANUALS = mark(
    "Makers’ manuals, the venue’s rules and local electrical and safety codes come first; wiring "
    "is for licensed people."
)
PEOPLE = mark("Children only with a guardian in the room. Touch only after a yes; show instead.")
FACES = mark(
    "Measures of a face can be biometric data under local law: keep them with consent, for a "
    "stated time, and erase every copy on request. For legal advice ask a lawyer."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class CareNote:
    """One note: what it is about, and the sentence to read."""

    topic: str
    sentence: str


def needs_rest(setup: Setup) -> bool:
    """Whether the pose is one that nobody should be asked to hold for long."""
    return setup.chin_deg > CHIN_UP_NO_HOLD_DEG or abs(setup.turn_deg) > TURN_NO_HOLD_DEG


def care_notes(setup: Setup, light: str = "") -> tuple[CareNote, ...]:
    """The care notes that apply, the most particular first.

    ``light`` is what the key is: "flash", "lamp", "window", "sun", "shade", or "" where it isn't
    known.
    """
    if light not in LIGHTS:
        known = ", ".join(name for name in LIGHTS if name)
        raise SheetError(
            tr(
                "The light '{light}' is not known; give one of {known}, or nothing.",
                light=light,
                known=known,
            )
        )
    key_above_mm = setup.key_distance_mm * math.sin(math.radians(setup.key_elevation_deg))
    chosen = [("neck", NECK), ("breath", BREATH)] if needs_rest(setup) else []
    chosen += _light_notes(light)
    if setup.camera_height_mm > LENS_NEEDS_A_STEP_MM:
        chosen.append(("step", STEP))
    if light in ("sun", "shade"):
        chosen.append(("outdoors", OUTDOORS))
    elif key_above_mm > KEY_OVERHEAD_MM and light != "window":
        chosen.append(("overhead", OVERHEAD))
    else:
        chosen.append(("stands", STANDS))
    if setup.rim == "on":
        chosen.append(("rim", RIM_BOOM if needs_boom(setup) else RIM_STAND))
    chosen += [("people", PEOPLE), ("faces", FACES), ("manuals", MANUALS)]
    return tuple(CareNote(topic=topic, sentence=say(text)) for topic, text in chosen)


def _light_notes(light: str) -> list[tuple[str, str]]:
    by_light = {
        "": [("flash", PERHAPS_FLASH), ("lamps", LAMPS)],
        "flash": [("flash", FLASH), ("lamps", LAMPS)],
        "lamp": [("lamps", LAMPS)],
        "window": [("window", WINDOW)],
        "sun": [("eyes", NOBODY), ("sun", SUN)],
        "shade": [("sun", SUN)],
    }
    return by_light[light]
