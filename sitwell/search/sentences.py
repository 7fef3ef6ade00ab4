"""Every sentence of a plan, in one place, in plain English, for the photographer to read.

No sentence judges a sitter: it tells what a move does for a wish that the sitter made, or what a
guard is about. Braces are filled in by name, so that a translation may reorder them.
"""

from collections.abc import Mapping

FEATURE_WORDS: Mapping[str, str] = {
    "forehead": "the forehead",
    "thinning-hair": "the hair",
    "nose-length": "the nose’s length",
    "nose-bend": "the nose’s line",
    "nose-width": "the nose’s width",
    "ears": "the ears",
    "eye-balance": "the evenness of the eyes",
    "eye-size": "the eyes",
    "lively-eyes": "the liveliness of the eyes",
    "jaw": "the jaw line",
    "face-width": "the width of the face",
    "neck": "the neck",
    "glasses": "the glasses",
    "skin": "the skin",
    "smile": "the smile",
}
# (what the move is called when it rises, when it falls)
WAYS: Mapping[str, tuple[str, str]] = {
    "turn_deg": ("Turning toward your sitter’s own left", "Turning toward your sitter’s own right"),
    "chin_deg": ("Chin up", "Chin down"),
    "tilt_deg": ("Tilting to your sitter’s own left", "Tilting to your sitter’s own right"),
    "chin_forward_mm": ("Chin forward", "Chin back"),
    "camera_height_mm": ("A higher camera", "A lower camera"),
    "f_number": ("A smaller aperture", "A wider aperture"),
    "key_azimuth_deg": ("A key farther to camera right", "A key farther to camera left"),
    "key_elevation_deg": ("A higher key", "A lower key"),
    "key_distance_mm": ("A key farther away", "A key nearer"),
    "fill_ratio": ("Less fill", "More fill"),
    "background_stops": ("A brighter background", "A darker background"),
}
GUARD_SENTENCES: Mapping[str, str] = {
    "nose line": "the nose would leave the outline of the cheek, the lip line or the eye socket",
    "nostrils": "the nostrils would open to the camera",
    "far ear": "the far ear would show as a sliver",
    "stretch": "near and far parts of the face would stretch apart",
    "distance": "the camera would be nearer than 0.9 m",
    "lens": "the lens would be wider than 35 mm-equivalent",
    "eyes even": "the eyes would look less even than straight on",
    "catchlight": "neither eye would carry a catchlight",
    "near eye sharp": "the near eye would lose focus",
    "eye whites": "white would show below the iris",
    "crop": "the picture’s edge would cut at a place that reads badly",
    "glare own left": "a light would mirror in the glasses’ pane on the sitter’s own left",
    "glare own right": "a light would mirror in the glasses’ pane on the sitter’s own right",
    "ceiling": "the key would touch the ceiling",
    "walls": "the key would stand outside the walls",
    "floor": "the key would touch the floor",
    "key out of picture": "the key would stand in the picture",
    "window wall": "the camera would stand in the window’s wall",
    "squint": "the sitter would look into the sun and squint",
    "closest focus": "the lens would not focus that close",
    "hand-held": "the shutter would be too slow to hold by hand",
}

END_OF_RANGE = "the range set for this move ends here"
GAIN_LOST = "a tenth of what the set-up does for the wishes would be lost"
LIKENESS_LOST = "the light and the pose would stop being the ones planned"

REASON_MOST = "Without {move}, most of what this set-up does for {feature} is lost."
REASON_SOME = "Without {move}, some of what this set-up does for {feature} is lost."
REASON_GUARD = "Without {move}, {guard}."
REASON_GUARD_TOO = "Without it, too, {guard}."
REASON_BALANCE = "{Move} gives up a little on {feature} and makes room for the other moves."
REASON_LIGHT = "{Move} gives up a little on {feature} for light that draws the face well."
REASON_LOOK = "{Move} shapes the light and the pose; no wish hangs on it."

CONFLICT_WISHES = "{way} serves {first} and works against {second}; in the {set_up} set-up {stays}."
CONFLICT_GUARD = "{way} serves {first}, but soon {guard}; in the {set_up} set-up {stays}."

NOTE_NO_WISH = (
    "No wish was given, so nothing is played down or brought out: pleasant, plain set-ups."
)
NOTE_ONLY_LEAVE = "Everything wished for is left as it is: pleasant, plain set-ups around that."
NOTE_REACHED = (
    "What was wished for is there straight on already; the set-ups are plain and keep it so."
)
NOTE_NOTHING_HELPS = (
    "With this kit, this room and these limits no set-up changes what was wished for by a step "
    "that a viewer would notice."
)
NOTE_LITTLE = "What can be gained here is about one step that a viewer just notices."
NOTE_STRONGEST = (
    "Nothing stronger exists within the guards: the strong set-up does hardly more than the "
    "balanced one."
)
NOTE_FEWER: Mapping[int, str] = {
    1: (
        "There is one set-up only: with these wishes, and with what is fixed or limited, no other "
        "one would serve and look different."
    ),
    2: (
        "There are two set-ups only: with these wishes, and with what is fixed or limited, a third "
        "one would look like one of them."
    ),
}
NOTE_BROKEN = "This set-up does not keep a guard: {guard}."
NOTE_STEP_BACK = (
    "The {focal:g} mm lens would have to come nearer than {distance}; stand there and crop to "
    "the framing afterwards."
)
NOTE_HANDHELD = "By hand, keep the shutter at 1/{shutter} s or faster, or use a stand."
NOTE_ONE_CATCHLIGHT = "Only one eye carries a catchlight."
NOTE_CROP = (
    "Frame the whole head from this distance and cut into the forehead afterwards, or zoom in "
    "from the same place."
)
# By what the light is; "" for one that is seen from one place of the camera only.
NOTE_STAYS: Mapping[str, str] = {
    "": "The light can’t be moved: turn the sitter and the camera together instead.",
    "sun": (
        "The sun can’t be moved: go round the sitter with the camera until it stands where this "
        "sheet has it, and let the sitter turn with you."
    ),
    "shade": (
        "The open sky can’t be moved: go round the sitter with the camera, and let the sitter turn "
        "with you. Farther into the shade, its light comes in lower."
    ),
    "window": (
        "The window can’t be moved: go round the sitter with the camera, and let the sitter turn "
        "with you. Nearer to the window, its light comes from higher up and falls off faster."
    ),
}
NOTE_FAVOURS = "The wishes pull opposite ways; this set-up serves {feature} first."
NOTE_BETWEEN = "The wishes pull opposite ways; this set-up stays between them."
NOTE_OPPOSED = (
    "The wishes pull opposite ways, so that no set-up serves all of them: some serve one wish "
    "first, one stays between them."
)
NOTE_SMALL_LOSS = "This set-up gives up something on {feature} for the sake of the other wishes."
NOTE_CAMERA_HIGH = (
    "Seen from above, the eyes look up from under the brow; on some faces that reads as menacing. "
    "Look at a frame together and let the sitter decide."
)

WISH_NOTES: Mapping[str, str] = {
    "lively-eyes": (
        "Light can give both eyes a catchlight; the rest is words: a full breath in, the lower "
        "lids a little tense, and the shutter as the breath goes."
    ),
    "smile": (
        "The set-up can’t change a smile; only words can: a closed, easy smile, and the head "
        "turned so that the fuller side is nearer the camera if the sitter knows which it is."
    ),
    "neck": (
        "The neck is not measured: the set-up only brings the chin and the camera where they "
        "usually help. A turn of the shoulders is for words."
    ),
    "eye-balance": (
        "A light squint of both eyes evens the openings too; only for those who do it with ease."
    ),
    "thinning-hair": "No hair light, and nothing bright behind the top of the head.",
    "glasses": (
        "Frames differ: look for reflections in the first frame and tip the temples of the frame "
        "a little if one is left."
    ),
}
NOTE_NO_GLASSES = "No glasses were measured, so the planned light was not checked against any."

STAGES: Mapping[str, str] = {
    "screen": "Looking around",
    "strong": "Finding the strong set-up",
    "balanced": "Finding the balanced set-up",
    "gentle": "Finding the gentle set-up",
    "leeway": "Measuring the leeway",
    "reasons": "Weighing each move",
    "conflicts": "Looking for collisions",
    "done": "Done",
}


def sentence(pattern: str, **words: object) -> str:
    """A pattern filled in; a brace with a capital takes the same word with a capital."""
    capitals = {
        name.capitalize(): str(word)[:1].upper() + str(word)[1:] for name, word in words.items()
    }
    return pattern.format(**words, **{k: v for k, v in capitals.items() if k not in words})
