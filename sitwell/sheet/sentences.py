"""Every sentence of the sheet in one place, named for the catalogue and told by ``say``."""

from sitwell.base import words

mark, say = words.mark, words.tr

# Sides. Never a bare left or right: the sitter's own, or the camera's. Where a sentence names the
# sitter's own side it stands twice, for a negative and a positive amount: other languages bend it.
CAMERA_LEFT = mark("camera left")
CAMERA_RIGHT = mark("camera right")

# Natural steps, in the order of their size.
TOUCH = mark("a touch")
LITTLE = mark("a little")
LITTLE_MORE = mark("a little, then a little more")

# To the sitter, in the order in which they are spoken.
FEET_AND_BODY = mark("feet, body")
SHOULDERS = mark("shoulders")
TURN = mark("turn")
CHIN = mark("chin")
TILT = mark("tilt")
EYES = mark("eyes")
MOUTH = mark("mouth")
BREATH = mark("breath")

SETTLE = mark("Settle in, tall and easy.")
SETTLE_TURNED = (
    mark("Settle in, tall and easy, feet and body some of the way toward your right."),
    mark("Settle in, tall and easy, feet and body some of the way toward your left."),
)
DROP_SHOULDERS = mark("Let your shoulders go soft and low.")
NOSE_TOWARD = (
    mark("Bring your nose toward your right shoulder, {amount}."),
    mark("Bring your nose toward your left shoulder, {amount}."),
)
NOSE_AT_HAND = (
    mark("Point your nose at my hand, on your right."),
    mark("Point your nose at my hand, on your left."),
)
NOSE_AT_MARK = (
    mark("Point your nose at the mark on your right."),
    mark("Point your nose at the mark on your left."),
)
NOSE_AT_KEY = (
    mark("Point your nose at the light on your right, chin as it is."),
    mark("Point your nose at the light on your left, chin as it is."),
)
FOREHEAD_FORWARD = mark("Bring your forehead toward the lens {amount}.")
CHIN_UP = mark("Lift your chin {amount}.")
CHIN_DOWN = mark("Let your chin come down {amount}.")
LEAN_HEAD = (
    mark("Lean your head toward your right shoulder, {amount}."),
    mark("Lean your head toward your left shoulder, {amount}."),
)
EYES_TO_LENS = mark("Now bring your eyes to the lens.")
EYES_AHEAD = mark("Let your eyes rest where your nose points.")
LOWER_LIDS = mark("Bring your lower lids up a touch, as if it were a little bright.")
HALF_SMILE = mark("Lips together, and smile half-way, from the eyes.")
MOUTH_AT_REST = mark("Let your mouth rest, lips just touching.")
BREATHE_SLOWLY = mark("A full breath in, and let it out slowly. Lovely.")
BREATHE_AND_STAY = mark("A full breath in, and let it go. Lovely, stay.")
BREATHE_AND_REST = mark("A full breath in, and let it go. Lovely, and rest.")

# What the photographer shows, as in a mirror.
SHOW_NOSE = mark("show: nose to {side}")
SHOW_HAND = mark(
    "your hand: {length} to {side} of the lens, at the height of their eyes, as far from them as "
    "the lens"
)
SHOW_MARK = mark(
    "the mark, a stand or tape: {length} to {side} of the lens, at the height of their eyes, as "
    "far from them as the lens"
)
SHOW_KEY = mark("show: nose to {side}, where the key stands")
SHOW_LEAN = mark("show: lean to {side}")
SHOW_LIDS = mark("show: lower lids a little tense, brows easy")
SHOW_BREATH = mark("release as the breath goes")
SHOW_BODY = mark("show: turn to {side}")
MIRROR = mark("Show each move first, as in a mirror; then say it, one at a time.")

# To the photographer and the assistant.
CAMERA = mark("Lens")
DISTANCE = mark("Distance")
LENS_HEIGHT = mark("Lens height")
KEY_PLACE = mark("Key, place")
KEY_DISTANCE = mark("Key, distance")
KEY_SIZE = mark("Key, size")
FILL = mark("Fill")
BACKGROUND = mark("Background")
CROP = mark("Crop")
LIGHT = mark("Light")

LENS_AND_APERTURE = mark("{focal} mm at f/{f_number}")
SENSOR_NOTE = mark("on a {width} × {height} mm sensor")
TO_THE_EYES = mark("lens to the sitter’s eyes")
AT_EYE_LINE = mark("at the eye line")
ABOVE_EYE_LINE = mark("{length} above the eye line")
BELOW_EYE_LINE = mark("{length} below the eye line")
RIM_PLACE = mark("Rim, place")
RIM_DISTANCE = mark("Rim, distance")
RIM_LEVEL = mark("Rim, level")
BACKGROUND_LIGHT_PLACE = mark("Background light, place")

KEY_SIDE = mark("{side}, {azimuth}° round")
KEY_STRAIGHT = mark("straight over the lens")
KEY_STRAIGHT_LEVEL = mark("at the lens")
KEY_RAISED = mark("{elevation}° up, {length} above the eyes")
KEY_LOWERED = mark("{elevation}° down, {length} below the eyes")
KEY_LEVEL = mark("level with the eyes")
TO_THE_FACE = mark("from its front to the face")
ACROSS = mark("{length} across")
DISTANCE_AND_SIZE = mark("{distance}, {length} across")
ON_A_BOOM = mark("{height}, on a boom")
OFF_THE_LENS = mark("keep its light off the lens: a hood, or a flag beside the lamp")
METERED_ALONE = mark("metered alone, at the face, toward the lamp")
FROM_BACKGROUND = mark("{length} from the background")
LOW_BEHIND = mark("low behind the sitter, out of the picture")
OUT_AT_SIDE = mark("beside the sitter, out of the picture")
FILL_RATIO = mark("{ratio}:1")
FILL_CONVENTION = mark("key plus fill on the lit side, against fill alone")
FILL_BELOW = mark("fill {stops} below the key")
FILL_ABOVE = mark("fill {stops} above the key")
FILL_EQUAL = mark("fill as bright as the key")
FILL_NO_SHADE = mark("fill alone, no shade side")
BACKGROUND_BEHIND = mark("{length} behind the sitter")
TONE_DARKER = mark("{stops} darker than the lit cheek")
TONE_BRIGHTER = mark("{stops} brighter than the lit cheek")
TONE_EQUAL = mark("as bright as the lit cheek")
FRAMINGS = {
    "tight-head": mark("tight head"),
    "head-and-shoulders": mark("head and shoulders"),
    "half-length": mark("half length"),
    "three-quarter-length": mark("three-quarter length"),
    "full-length": mark("full length"),
}
PATTERNS = {
    "butterfly": mark("butterfly"),
    "loop": mark("loop"),
    "Rembrandt": mark("Rembrandt"),
    "split": mark("split"),
}
BREADTHS = {"broad": mark("broad light"), "short": mark("short light")}
SHARP = mark("Sharp")
SHARP_DEPTH = mark("{depth} deep: {before} before the eyes, {behind} behind them")
SHARP_BEHIND = mark("from {before} before the eyes, and all that is behind them")
ALL_SHARP = mark("both eyes, nose and ears are sharp")
NOT_SHARP = mark("not sharp, focused on the nearer eye: {parts}")
SOFT_PARTS = {
    "far_eye": mark("the farther eye"),
    "nose_tip": mark("the nose’s tip"),
    "ear_own_left": mark("the sitter’s own left ear"),
    "ear_own_right": mark("the sitter’s own right ear"),
}
BY_ITS_SHADOW = mark("by where the nose’s shadow falls in the picture")
CROPS = {
    "whole-head": mark("whole head, with air above"),
    "into-forehead": mark("cut between brow and hairline, a little air above the brows"),
}

# One nudge at a time, while the sitter holds the pose.
NUDGE_NOSE = (
    mark("Your nose toward your right shoulder, {amount}."),
    mark("Your nose toward your left shoulder, {amount}."),
)
NUDGE_NOSE_ON = (
    mark("Your nose slowly farther toward your right shoulder."),
    mark("Your nose slowly farther toward your left shoulder."),
)
NUDGE_CHIN_UP = mark("Your chin up {amount}.")
NUDGE_CHIN_DOWN = mark("Your chin down {amount}.")
NUDGE_LEAN = (
    mark("Your head toward your right shoulder, {amount}."),
    mark("Your head toward your left shoulder, {amount}."),
)
NUDGE_FORWARD = mark("Your forehead toward the lens {amount}.")
NUDGE_BACK = mark("Your head back, {amount}, easy.")
LENS_UP = mark("Raise the lens {length}.")
LENS_DOWN = mark("Lower the lens {length}.")
STEP_BACK = mark("Take the camera back {length}.")
STEP_IN = mark("Bring the camera in {length}.")
LONGER_LENS = mark("Zoom in, {amount} mm longer.")
SHORTER_LENS = mark("Zoom out, {amount} mm shorter.")
CLOSE_APERTURE = mark("Close the aperture, {amount} higher in f-number.")
OPEN_APERTURE = mark("Open the aperture, {amount} lower in f-number.")
KEY_TOWARD = mark("Swing the key {amount}° toward {side}.")
KEY_UP = mark("Raise the key {amount}°.")
KEY_DOWN = mark("Lower the key {amount}°.")
KEY_AWAY = mark("Take the key back {length}.")
KEY_NEARER = mark("Bring the key in {length}.")
KEY_LARGER = mark("Use a larger key, {length} more across.")
KEY_SMALLER = mark("Use a smaller key, {length} less across.")
LESS_FILL = mark("Take some fill away.")
MORE_FILL = mark("Add some fill.")
BACKGROUND_BRIGHTER = mark("Brighten the background by {stops}.")
BACKGROUND_DARKER = mark("Darken the background by {stops}.")
BACKGROUND_AWAY = mark("Take the background back {length}.")
BACKGROUND_NEARER = mark("Bring the background in {length}.")

# Headings and captions of the page.
SET_UP_NUMBER = mark("Set-up {number}")
SET_UP = mark("Set-up")
NAMED_SET_UP = mark("{name} set-up")
SET_UP_NAMES = {
    "gentle": mark("Gentle set-up"),
    "balanced": mark("Balanced set-up"),
    "strong": mark("Strong set-up"),
    "another": mark("Another way"),
}
AS_SEEN = mark("as the camera will see it")
SAY_TO_SITTER = mark("Say to the sitter")
SET = mark("Camera and light")
LEEWAY = mark("How far it may drift")
GUARDS = mark("What does not hold")
GAINS = mark("What the wishes gain")
NOTES = mark("Good to know")
CARE = mark("Care")
LOST = mark("not held")
AT_LEAST = mark("at least {limit}")
AT_MOST = mark("at most {limit}")
NOW_WITH_LIMIT = mark("{value}; must be {limit}")
WAS_BECOMES = mark("{name}: {was} becomes {becomes}")
FROM_TO = mark("{low} to {high}")
PAST, UNDER = mark("past {value}: {why}"), mark("under {value}: {why}")
AIM = mark("aim for {value}")
AND_MORE = mark("and {count} more in the plan")
PERCENT = mark("{value} %")
SIGNED_STOPS = mark("{value} stops")
DEGREES = mark("{value}°")
MILLIMETRES = mark("{value} mm")
O_CLOCK = mark("{value} o’clock")
CIRCLES = mark("{value} times what passes as sharp")
ONE_CIRCLE = mark("just what passes as sharp")
BARE = mark("{value}")
OWN_SIDES = (mark("own right"), mark("own left"))
CAMERA_SIDES = (CAMERA_LEFT, CAMERA_RIGHT)
UP_DOWN = (mark("down"), mark("up"))
DARKER_BRIGHTER = (mark("darker"), mark("brighter"))
THERE = mark("there")
NOT_THERE = mark("not there")
NOT_SEEN = mark("not in view")
NOTICE_AGAINST = mark("against the wish")
NOTICE_NONE = mark("too small to see")
NOTICE_JUST = mark("just visible")
NOTICE_CLEAR = mark("clear")
NOTICE_STRONG = mark("strong")

TRUST_THE_FRAME = mark(
    "Planned on a model of the head. Where the first frame and this sheet differ, trust the frame."
)
PICTURE = mark("The head as the camera will see it")

# Labels of the drawings.
FROM_ABOVE = mark("From above")
FROM_SIDE = mark("From the side")
DRAW_CAMERA = mark("camera")
DRAW_LENS = mark("lens")
DRAW_KEY = mark("key")
DRAW_RIM = mark("rim light")
DRAW_BACKGROUND_LIGHT = mark("background light")
DRAW_FILL = mark("fill")
DRAW_FILL_METER = mark("set by meter")
DRAW_FILL_LENS = mark("camera side, by meter")
DRAW_BACKGROUND = mark("background")
DRAW_EYE_LINE = mark("eye line")
DRAW_SQUARE_ON = mark("nose to the lens")
DRAW_TURN = mark("nose {angle}°")
DRAW_CHIN_UP = mark("chin {angle}° up")
DRAW_CHIN_DOWN = mark("chin {angle}° down")
DRAW_CHIN_LEVEL = mark("chin level")
DRAW_AROUND = mark("{angle}° {side}")
DRAW_VIEW = mark("angle of view {angle}°")
DRAW_ABOVE = mark("{length} above")
DRAW_BELOW = mark("{length} below")
DRAW_SCALE = mark("{metres} m ({feet} ft)")
DRAW_AT_EYES = mark("level with the eyes")
