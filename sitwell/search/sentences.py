"""Every sentence of a plan, in one place, named for the catalogue, for the photographer to read.

No sentence judges a sitter: it tells what a move does for a wish that the sitter made, or what a
guard is about. They are told once a set-up is found, never while it is searched. Braces are filled
in by name, so that a translation may reorder them; what fills them stays in one case and number.
"""

from collections.abc import Mapping

from sitwell.base.words import mark

FEATURE_WORDS: Mapping[str, str] = {
    "forehead": mark("the forehead"),
    "thinning-hair": mark("the hair"),
    "nose-length": mark("the nose’s length"),
    "nose-bend": mark("the nose’s line"),
    "nose-width": mark("the nose’s width"),
    "ears": mark("the ears"),
    "eye-balance": mark("the evenness of the eyes"),
    "eye-size": mark("the eyes"),
    "lively-eyes": mark("the liveliness of the eyes"),
    "jaw": mark("the jaw line"),
    "face-width": mark("the width of the face"),
    "neck": mark("the neck"),
    "glasses": mark("the glasses"),
    "skin": mark("the skin"),
    "smile": mark("the smile"),
}
# (what the move is called when it rises, when it falls)
WAYS: Mapping[str, tuple[str, str]] = {
    "turn_deg": (
        mark("Turning toward your sitter’s own left"),
        mark("Turning toward your sitter’s own right"),
    ),
    "chin_deg": (mark("Chin up"), mark("Chin down")),
    "tilt_deg": (
        mark("Tilting to your sitter’s own left"),
        mark("Tilting to your sitter’s own right"),
    ),
    "chin_forward_mm": (mark("Chin forward"), mark("Chin back")),
    "camera_height_mm": (mark("A higher camera"), mark("A lower camera")),
    "f_number": (mark("A smaller aperture"), mark("A wider aperture")),
    "key_azimuth_deg": (
        mark("A key farther to camera right"),
        mark("A key farther to camera left"),
    ),
    "key_elevation_deg": (mark("A higher key"), mark("A lower key")),
    "key_distance_mm": (mark("A key farther away"), mark("A key nearer")),
    "fill_ratio": (mark("Less fill"), mark("More fill")),
    "background_stops": (mark("A brighter background"), mark("A darker background")),
}
GUARD_SENTENCES: Mapping[str, str] = {
    mark("nose line"): mark(
        "the nose would leave the outline of the cheek, the lip line or the eye socket"
    ),
    mark("nostrils"): mark("the nostrils would open to the camera"),
    mark("far ear"): mark("the far ear would show as a sliver"),
    mark("stretch"): mark("near and far parts of the face would stretch apart"),
    mark("distance"): mark("the camera would be nearer than 0.9 m"),
    mark("lens"): mark("the lens would be wider than 35 mm-equivalent"),
    mark("eyes even"): mark("the eyes would look less even than straight on"),
    mark("catchlight"): mark("neither eye would carry a catchlight"),
    mark("near eye sharp"): mark("the near eye would lose focus"),
    mark("far eye sharp"): mark("the far eye would lose focus"),
    mark("eye whites"): mark("white would show below the iris"),
    mark("crop"): mark("the picture’s edge would cut at an awkward place"),
    mark("glare own left"): mark(
        "a light would mirror in the glasses’ pane on the sitter’s own left"
    ),
    mark("glare own right"): mark(
        "a light would mirror in the glasses’ pane on the sitter’s own right"
    ),
    mark("ceiling"): mark("the key would touch the ceiling"),
    mark("walls"): mark("the key would stand outside the walls"),
    mark("floor"): mark("the key would touch the floor"),
    mark("key out of picture"): mark("the key would stand in the picture"),
    mark("key off lens"): mark(
        "the key would stand where the lens looks or the photographer stands"
    ),
    mark("stand"): mark("the key would hang higher or lower than a stand holds it"),
    mark("knees"): mark("the key would stand over the knees of your sitter"),
    mark("window wall"): mark("the camera would stand in the window’s wall"),
    mark("window free"): mark("the camera would stand before the window and take its light"),
    mark("squint"): mark("the sitter would look into the sun and squint"),
    mark("rim light off lens"): mark("the rim light would shine into the lens"),
    mark("rim light in room"): mark(
        "the rim light would not fit between the walls and the background"
    ),
    mark("closest focus"): mark("the lens would not focus that close"),
    mark("hand-held"): mark("the shutter would be too slow to hold by hand"),
}

END_OF_RANGE = mark("the range set for this move ends here")
GAIN_LOST = mark("a tenth of what the set-up does for the wishes would be lost")
HEAD_UNSURE = mark("on some of the heads that the frames leave possible, more would break a guard")
LIKENESS_LOST = mark("the light and the pose would stop being the ones planned")

REASON_MOST = mark("Without {move}, most of what this set-up does for {feature} is lost.")
REASON_SOME = mark("Without {move}, some of what this set-up does for {feature} is lost.")
REASON_GUARD = mark("Without {move}, {guard}.")
REASON_GUARD_TOO = mark("Without it, {guard} as well.")
REASON_BALANCE = mark("{Move} gives up a little on {feature} and makes room for the other moves.")
REASON_LIGHT = mark("{Move} gives up a little on {feature} for light that draws the face well.")
REASON_LOOK = mark("{Move} shapes the light and the pose; no wish hangs on it.")

CONFLICT_WISHES = mark("{way} serves {first} and works against {second}; {where} {stays}.")
CONFLICT_GUARD = mark("{way} serves {first}, but soon {guard}; {where} {stays}.")

IN_SET_UP: Mapping[str, str] = {
    "gentle": mark("in the gentle set-up"),
    "balanced": mark("in the balanced set-up"),
    "strong": mark("in the strong set-up"),
}

# What is offered apart from the stops, by what is other than in the strong set-up.
NOTE_ANOTHER = mark("Another way, on a sheet of its own: {differs}.")
NOTE_ANOTHER_GIVES = mark(
    "Another way, on a sheet of its own: {differs}. It gives {share} in 100 of the gain."
)
NOTE_ANOTHER_AS_MUCH = mark(
    "Another way, on a sheet of its own: {differs}. It gives about as much."
)
ANOTHER_CUT = mark("a cut into the forehead")
ANOTHER_STRAIGHT = mark("the face straight on")
ANOTHER_LEVEL = mark("the chin level")
ANOTHER_TURN = (
    mark("the face toward your sitter’s own right"),
    mark("the face toward your sitter’s own left"),
)
ANOTHER_KEY = (mark("the key on camera left"), mark("the key on camera right"))

NOTE_NO_WISH = mark(
    "No wish was given, so nothing is played down or brought out: pleasant, plain set-ups."
)
NOTE_ONLY_LEAVE = mark(
    "Everything wished for is left as it is: pleasant, plain set-ups around that."
)
NOTE_REACHED = mark(
    "What was wished for is there straight on already; the set-ups are plain and keep it so."
)
NOTE_NOTHING_HELPS = mark(
    "With this kit, this room and these limits no pose and no light changes what was wished for by "
    "a step that a viewer would notice. A crop, hair, clothes, retouching or a kind word may."
)
NOTE_LITTLE = mark("What can be gained here is about one step that a viewer just notices.")
NOTE_FEWER: Mapping[int, str] = {
    1: mark(
        "There is one set-up only on this way: with these wishes, and with what is fixed or "
        "limited, no other one would serve and look different."
    ),
    2: mark(
        "There are two set-ups only on this way: with these wishes, and with what is fixed or "
        "limited, a third one would look like one of them."
    ),
}
# What would tell of what no frame shows.
_LIDS = mark(
    "No frame shows how far the eyes open, so no number is given for them: take a frame with both "
    "open and bare, mark the lids, or look together."
)
_HAIRLINE = mark(
    "No frame shows the hairline, so no number is given for the forehead or the hair: take a frame "
    "with it bare, mark it, or look together."
)
NOTE_UNSEEN: Mapping[str, str] = {
    "ears": mark(
        "No frame shows the ears, so no number is given for them: take a frame with the hair "
        "behind them, mark them, or look together."
    ),
    "eye-balance": _LIDS,
    "eye-size": _LIDS,
    "forehead": _HAIRLINE,
    "thinning-hair": _HAIRLINE,
}
NOTE_UNSURE = mark(
    "The frames leave the head unsure enough for a chance of {share} in 100: {guard}. Look at it "
    "in the first frame."
)
HARD_MOVES: Mapping[str, str] = {
    "turn_deg": mark("The turn"),
    "chin_deg": mark("The chin"),
    "tilt_deg": mark("The tilt"),
}
NOTE_HARD = mark("{move} has less than {least}° to one side and is hard to hold: shoot a few more.")
NOTE_BROKEN = mark("This set-up does not keep a guard: {guard}.")
NOTE_STEP_BACK = mark(
    "The {focal} mm lens would have to come nearer than {distance}; stand there and crop to "
    "the framing afterwards."
)
NOTE_NEAR = mark(
    "A lens this short, from nearer than {distance}, draws what is close larger: it stands there "
    "for {feature}, so look at a frame together."
)
NOTE_NEAR_ONLY = mark(
    "A lens this short, from nearer than {distance}, draws what is close larger: kit and room "
    "leave no longer one."
)
NOTE_HANDHELD = mark("By hand, keep the shutter at 1/{shutter} s or faster, or use a stand.")
NOTE_ONE_CATCHLIGHT = mark("Only one eye carries a catchlight.")
NOTE_CROP = mark(
    "Frame the whole head from this distance and cut into the forehead afterwards, or zoom in "
    "from the same place."
)
# By what the light is; "" for one that is seen from one place of the camera only.
NOTE_STAYS: Mapping[str, str] = {
    "": mark("The light can’t be moved: turn the sitter and the camera together instead."),
    "sun": mark(
        "The sun can’t be moved: go round the sitter with the camera until it stands where this "
        "sheet has it, and let the sitter turn with you."
    ),
    "shade": mark(
        "The open sky can’t be moved: go round the sitter with the camera, and let the sitter turn "
        "with you. Farther into the shade, its light comes in lower."
    ),
    "window": mark(
        "The window can’t be moved: go round the sitter with the camera, and let the sitter turn "
        "with you. Nearer to the window, its light comes from higher up and falls off faster."
    ),
}
CAMERA_SIDES = (mark("camera left"), mark("camera right"))
NOTE_RIM = mark(
    "The rim light stands behind the sitter, opposite the key, at {side}: there it edges the hair "
    "and the shoulder on the shade side and keeps {margin}° outside the picture’s corner."
)
NOTE_RIM_KEY_IN_FRONT = mark(
    "The rim light stands behind the sitter at {side}: there it edges the hair and the shoulder "
    "and keeps {margin}° outside the picture’s corner."
)
NOTE_RIM_FIXED = mark("The rim light stands at {side}, where you fixed it.")
NOTE_RIM_HIDDEN = mark(
    "The rim light stands behind the sitter’s head, which hides it from the lens; a turn of the "
    "head may bare it."
)
NOTE_RIM_PARTS = mark("It also parts dark hair from a background this dark.")
NOTE_RIM_EAR = mark(
    "The rim light reaches the ear on its side: flag it off the ear, or leave it out, if the ear "
    "draws the eye."
)
NOTE_NO_RIM = mark(
    "The rim light is left out: light from behind shines through the hair that your sitter would "
    "rather play down."
)
NOTE_RIM_WOULD_PART = mark(
    "Dark hair would run into a background this dark; the kit’s rim light would part them, and so "
    "would a brighter tone."
)
NOTE_FAVOURS = mark("The wishes pull opposite ways; this set-up serves {feature} first.")
NOTE_BETWEEN = mark("The wishes pull opposite ways; this set-up stays between them.")
NOTE_OPPOSED = mark(
    "The wishes pull opposite ways, so that no set-up serves all of them: some serve one wish "
    "first, one stays between them."
)
NOTE_SMALL_LOSS = mark(
    "This set-up gives up something on {feature} for the sake of the other wishes."
)
NOTE_CAMERA_HIGH = mark(
    "Seen from above, the eyes look up from under the brow; on some faces that reads as menacing. "
    "Look at a frame together and let the sitter decide."
)

WISH_NOTES: Mapping[str, str] = {
    "lively-eyes": mark(
        "Light can give both eyes a catchlight; lids and breath are for words, and the head is "
        "left alone."
    ),
    "smile": mark(
        "The set-up can’t change a smile, only turn its fuller side toward the camera; the rest is "
        "words, and has no number."
    ),
    "neck": mark(
        "The neck is not measured: the set-up only brings the chin and the camera where they "
        "usually help. A turn of the shoulders is for words."
    ),
    "eye-balance": mark(
        "A light squint of both eyes may even the openings too, which the head can’t tell; only "
        "for those who do it with ease."
    ),
    "thinning-hair": mark("No hair light, and nothing bright behind the top of the head."),
    "glasses": mark(
        "Frames differ: look for reflections in the first frame and tip the temples of the frame "
        "a little if one is left."
    ),
}
# What an expression changes on this head.
NOTE_LIDS = mark(
    "On this head, lower lids that tense a touch close the eyes’ openings by about {share} %: calm "
    "and awake; more looks wary."
)
NOTE_MOUTH = mark(
    "On this head, half a smile widens the nose by about {share} %, so the mouth is asked to rest."
)
NOTE_FULLER_SIDE = mark(
    "Which side of the smile is the fuller one was not told, so nothing is turned for it: ask, and "
    "wish for smile:fuller-own-left or smile:fuller-own-right."
)
NOTE_ID_PICTURE = mark(
    "Pictures for passports and identity cards have rules of their own, which forbid posing: a "
    "level, square-on, neutral face in even light. A plan isn’t for them; follow what the "
    "authority asks for."
)
NOTE_NO_GLASSES = mark(
    "No glasses were measured, so the planned light was not checked against any."
)

STAGES: Mapping[str, str] = {
    "screen": mark("Looking around"),
    "strong": mark("Finding the strong set-up"),
    "heads": mark("Trying it on the heads that the frames leave possible"),
    "walk": mark("Walking back toward straight on"),
    "balanced": mark("Finding the balanced set-up"),
    "gentle": mark("Finding the gentle set-up"),
    "another": mark("Looking for another way"),
    "leeway": mark("Measuring the leeway"),
    "reasons": mark("Weighing each move"),
    "conflicts": mark("Looking for collisions"),
    "done": mark("Done"),
}
