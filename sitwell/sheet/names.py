"""Moves, measures and wishes by plain names, with their values as a photographer says them."""

import math
import re

from sitwell.base.units import length_words, plain_number, small_words, stops_words
from sitwell.base.words import Said, retold
from sitwell.scene.definitions import SHARE_OF_AREA, SHARE_OF_HEIGHT
from sitwell.scene.measures import MEASURES as ALL_MEASURES
from sitwell.search.plan import Gain
from sitwell.sheet import sentences as s
from sitwell.sheet.sentences import mark, say
from sitwell.sheet.settings import LEVEL_MM

MOVES = {
    "turn_deg": mark("turn"),
    "chin_deg": mark("chin"),
    "tilt_deg": mark("tilt"),
    "chin_forward_mm": mark("chin forward"),
    "camera_height_mm": mark("lens height"),
    "distance_mm": mark("camera distance"),
    "focal_mm": mark("focal length"),
    "f_number": mark("aperture"),
    "key_azimuth_deg": mark("key, to the side"),
    "key_elevation_deg": mark("key, up"),
    "key_distance_mm": mark("key distance"),
    "key_size_mm": mark("key size"),
    "fill_ratio": mark("fill ratio"),
    "background_stops": mark("background tone"),
    "background_distance_mm": mark("background distance"),
    "framing": mark("framing"),
    "crop": mark("crop"),
    "aspect": mark("format"),
}
WISHES = {
    "forehead": mark("forehead"),
    "thinning-hair": mark("hair and crown"),
    "nose-length": mark("nose, its length"),
    "nose-bend": mark("nose, its line"),
    "nose-width": mark("nose, its width"),
    "ears": mark("ears"),
    "eye-balance": mark("both eyes alike"),
    "eye-size": mark("eyes, their size"),
    "lively-eyes": mark("a lively look"),
    "jaw": mark("jaw and chin"),
    "face-width": mark("breadth of the face"),
    "neck": mark("neck"),
    "glasses": mark("glasses without glare"),
    "skin": mark("skin"),
    "smile": mark("smile"),
}
MEASURES = {
    "forehead_share": mark("forehead"),
    "crown_share": mark("crown"),
    "nose_length": mark("length, of brow to chin"),
    "nose_width": mark("width, of the cheekbones"),
    "nose_bend": mark("bend of the ridge"),
    "nose_lean": mark("lean of the nose"),
    "nose_break": mark("nose inside the cheek, lip and socket lines"),
    "nose_break_cheek": mark("nose inside the far cheek"),
    "nose_break_lip": mark("nose above the lip line"),
    "nose_break_socket": mark("nose clear of the far eye socket"),
    "nostril_show": mark("nostrils in view"),
    "ear_show": mark("how much of the ear shows"),
    "ear_out": mark("how far the ear stands out"),
    "ear_contrast": mark("ear against what is behind"),
    "eye_open": mark("eye opening"),
    "iris_cover": mark("iris covered by the lids"),
    "white_below": mark("white below the iris"),
    "catchlight": mark("catchlight"),
    "catchlight_clock": mark("place of the catchlight"),
    "glare": mark("margin to glare in the glasses"),
    "ear_sliver": mark("sliver of the far ear"),
    "eye_balance": mark("smaller eye to larger eye"),
    "eye_size": mark("eye openings"),
    "face_breadth": mark("face breadth to height"),
    "under_chin": mark("area under the jaw"),
    "jaw_edge": mark("edge of the jaw"),
    "near_far_stretch": mark("nose drawn larger than the ears"),
    "nose_contrast_stops": mark("light across the nose"),
    "nose_shadow_angle_deg": mark("angle of the nose’s shadow"),
    "nose_shadow_length": mark("length of the nose’s shadow"),
    "lit_side": mark("lit side"),
    "broadness": mark("broad (+) or short (−) light"),
    "skin_relief": mark("modelling of the skin"),
    "eye_line_share": mark("eye line in the frame"),
    "head_room_share": mark("air above the head"),
    "crop_clearance": mark("clearance of the crop"),
    "blur_near_eye": mark("blur at the near eye"),
    "blur_far_eye": mark("blur at the far eye"),
    "blur_nose_tip": mark("blur at the nose’s tip"),
    "blur_ear": mark("blur at the ear"),
    "light_forehead": mark("light on the forehead"),
    "light_nose_ridge": mark("light on the ridge of the nose"),
    "light_nose_side": mark("light on the side of the nose"),
    "light_cheek": mark("light on the cheek"),
    "light_ear": mark("light on the ear"),
    "light_eye": mark("light on the eye"),
    "light_chin": mark("light on the chin"),
    "light_under_chin": mark("light under the chin"),
    "forehead_in_picture": mark("forehead in the picture"),
    "catchlights": mark("eyes with a catchlight"),
    "seen_turn": mark("turn, as seen"),
    "seen_chin": mark("chin, as seen"),
    "key_beside_face": mark("key beside the face"),
    "key_above_face": mark("key above the face"),
    "key_below_ceiling": mark("key below the ceiling"),
    "key_inside_walls": mark("key inside the walls"),
    "key_above_floor": mark("key above the floor"),
    "key_out_of_picture": mark("key out of the picture"),
    "key_clear_of_lens": mark("key clear of the lens"),
    "key_on_stand": mark("key within a stand’s reach"),
    "key_clear_of_knees": mark("key clear of the knees"),
    "rim_crown": mark("rim light on the top of the head"),
    "rim_ear": mark("rim light on the ear"),
    "rim_shoulder": mark("rim light on the shoulder"),
    "rim_flare": mark("rim light off the picture’s corner"),
    "rim_in_room": mark("rim light inside the room"),
    "camera_before_wall": mark("camera before the window’s wall"),
    "camera_out_of_light": mark("camera out of the window’s light"),
    "gaze_to_sun": mark("gaze to the sun"),
    "focus_clearance": mark("distance beyond the closest focus"),
    "equivalent": mark("focal length, 35 mm equivalent"),
    "handheld": mark("light to spare for the hand"),
    "eyes_blur": mark("blur at the eyes"),
    "view_clear": mark("heads clear of each other"),
    "light_clear": mark("faces clear of each other’s shade"),
    "light_uneven": mark("light from face to face"),
    "size_ratio": mark("size from face to face"),
    "height_step": mark("step in height"),
}
# Guards by what holds while they hold; the others are called as they are.
GUARDS = {
    "nose line": mark("nose inside the cheek line"),
    "far ear": mark("no sliver of the far ear"),
    "stretch": mark("nose not drawn too large"),
    "eyes even": mark("eyes even"),
    "eye whites": mark("no white under the iris"),
    "crop": mark("no awkward crop"),
    "glare own left": mark("no glare in the glasses, sitter’s own left"),
    "glare own right": mark("no glare in the glasses, sitter’s own right"),
    "ceiling": mark("key under the ceiling"),
    "walls": mark("key inside the walls"),
    "floor": mark("key above the floor"),
    "key off lens": mark("key clear of the lens"),
    "window wall": mark("camera inside the window’s wall"),
    "window free": mark("camera out of the window’s light"),
    "squint": mark("no squint into the sun"),
    "hand-held": mark("fast enough by hand"),
}
WITH_OWN_SIDE = {
    "_own_left": mark("{name}, sitter’s own left"),
    "_own_right": mark("{name}, sitter’s own right"),
}
DIRECTIONS = {
    "turn_deg": s.OWN_SIDES,
    "tilt_deg": s.OWN_SIDES,
    "chin_deg": s.UP_DOWN,
    "camera_height_mm": s.UP_DOWN,
    "key_azimuth_deg": s.CAMERA_SIDES,
    "key_elevation_deg": s.UP_DOWN,
    "background_stops": s.DARKER_BRIGHTER,
}
MEASURED_SIDES = {"seen_turn_deg": s.OWN_SIDES, "seen_chin_deg": s.UP_DOWN}
VALUES = {
    SHARE_OF_HEIGHT: (s.PERCENT, 1),
    SHARE_OF_AREA: (s.PERCENT, 1),
    "picture heights": (s.PERCENT, 0),
    "stops": (s.SIGNED_STOPS, 1),
    "deg": (s.DEGREES, 0),
    "mm": (s.MILLIMETRES, 3),
    "hours": (s.O_CLOCK, 1),
    "circles of confusion": (s.CIRCLES, 1),
    "ratio": (s.PERCENT, 0),
    "0 to 1": (s.PERCENT, 0),
    "-1 to 1": (s.BARE, 2),
    "0 or 1": (s.BARE, 0),
}
PERCENT_UNITS = (SHARE_OF_HEIGHT, SHARE_OF_AREA, "picture heights", "ratio", "0 to 1")
# A ratio of two sizes, told by how much larger the first is.
LARGER = "near_far_stretch"
UNIT_OF = {row.name: row.unit for row in ALL_MEASURES}
UNITS = re.compile(r"_(deg|mm|stops|share|coc|clock)$")


def move_name(move: str) -> str:
    """A move's plain name; an unknown one keeps its words without the unit."""
    return say(MOVES[move]) if move in MOVES else _spelt_out(move)


def wish_name(wish: str) -> str:
    """A wish's plain name, whatever direction and weight are written behind it."""
    feature = wish.partition(":")[0]
    return say(WISHES[feature]) if feature in WISHES else _spelt_out(wish)


def measure_name(measure: str) -> str:
    """A measure's plain name, with the sitter's own side where it has one."""
    if measure in MEASURES:
        return say(MEASURES[measure])
    bare = UNITS.sub("", measure)
    for suffix, text in WITH_OWN_SIDE.items():
        if bare.endswith(suffix):
            return say(text, name=measure_name(bare.removesuffix(suffix)))
    return say(MEASURES[bare]) if bare in MEASURES else move_name(measure)


def why_words(why: str) -> str:
    """A guard's name or a sentence in the reader's language; a bare measure by its plain name."""
    if why in GUARDS:
        return say(GUARDS[why])
    if re.fullmatch(r"[a-z0-9]+(_[a-z0-9]+)+", why):
        return measure_name(why)
    return retold(why) if isinstance(why, Said) else say(why)


def is_yes_or_no(measure: str) -> bool:
    """Whether a measure only says that something is there (1) or not (0)."""
    return measure.startswith("catchlight_own_")


def move_value(move: str, value: float) -> str:
    """A move's value with its unit, and its side or direction in words where it has one."""
    if move == "camera_height_mm" and abs(value) < LEVEL_MM:
        return say(s.AT_EYE_LINE)
    return " ".join(part for part in (_amount(move, value), _side(move, value)) if part)


def move_range(move: str, low: float, high: float) -> tuple[str, str, str]:
    """The two ends of a range of a move in words, and the side or direction that both share.

    Ends on one side are given without it; ends on two sides each carry their own.
    """
    side = _side(move, low)
    if side and side == _side(move, high):
        return _amount(move, low), _amount(move, high), side
    return move_value(move, low), move_value(move, high), ""


def _side(move: str, value: float) -> str:
    """The side or direction of a signed move in words; "" where it has none or stands at zero."""
    if move not in DIRECTIONS or _amount(move, value) == _amount(move, 0.0):
        return ""
    return say(DIRECTIONS[move][value > 0])


def _amount(move: str, value: float) -> str:
    return _with_unit(move, abs(value) if move in DIRECTIONS else value)


def measure_value(measure: str, value: float) -> str:
    """A measure's value with its unit; shares of face and picture in per cent."""
    if math.isnan(value):
        return say(s.NOT_SEEN)
    if is_yes_or_no(measure):
        return say(s.THERE if value >= 0.5 else s.NOT_THERE)
    if measure in MEASURED_SIDES:
        amount, sides = f"{plain_number(abs(value), 0)}°", MEASURED_SIDES[measure]
        return amount if amount == "0°" else f"{amount} {say(sides[value > 0])}"
    if measure not in UNIT_OF:
        return _with_unit(measure, value, digits=2)
    if measure == LARGER:
        return say(s.PERCENT, value=plain_number(100 * (value - 1), 1))
    shown, digits = VALUES[UNIT_OF[measure]]
    if UNIT_OF[measure] in PERCENT_UNITS:
        value *= 100
    told = plain_number(value, digits)
    return say(s.ONE_CIRCLE if shown == s.CIRCLES and told == "1" else shown, value=told)


def becomes_words(gain: Gain) -> str:
    """What a gain's measure becomes, as a range where the frames leave several heads possible."""
    if gain.likely is None or is_yes_or_no(gain.measure):
        return measure_value(gain.measure, gain.becomes)
    low, high = (measure_value(gain.measure, value) for value in gain.likely)
    return low if low == high else say(s.FROM_TO, low=low, high=high)


def _with_unit(name: str, value: float, digits: int = 1) -> str:
    if name.endswith("_deg"):
        return f"{plain_number(value, 0)}°"
    if name == "f_number":
        return f"f/{plain_number(value)}"
    if name == "fill_ratio":
        return say(s.FILL_RATIO, ratio=plain_number(value))
    if name.endswith("_stops"):
        return stops_words(value)
    if name in ("focal_mm", "equivalent_mm"):
        return f"{plain_number(value, 0)} mm"
    if name == "chin_forward_mm":
        return small_words(value)
    if name.startswith("blur_") and name.endswith("_mm"):
        return f"{plain_number(value, 3)} mm"
    if name.endswith("_mm"):
        return length_words(value)
    return plain_number(value, digits)


def _spelt_out(name: str) -> str:
    return re.sub(r"[_:-]+", " ", UNITS.sub("", name)).strip()
