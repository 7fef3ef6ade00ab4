"""What the drawings say beside the things on a set, a line each."""

from sitwell.base.units import distance_words, length_words, plain_number
from sitwell.scene.setup import Setup
from sitwell.sheet import figures
from sitwell.sheet import sentences as s
from sitwell.sheet.sentences import say
from sitwell.sheet.settings import LEVEL_MM, STRAIGHT_DEG
from sitwell.sheet.words import LEAST_DEG, camera_side


def turn_lines(setup: Setup) -> list[str]:
    """How far the nose is turned from the lens."""
    if abs(setup.turn_deg) < LEAST_DEG:
        return [say(s.DRAW_SQUARE_ON)]
    angle, side = plain_number(abs(setup.turn_deg), 0), camera_side(setup.turn_deg)
    return [say(s.DRAW_TURN, angle=angle), side]


def key_lines(setup: Setup) -> list[str]:
    """The key, how far it stands and how far round."""
    lines = [say(s.DRAW_KEY), distance_words(setup.key_distance_mm)]
    if abs(setup.key_azimuth_deg) >= STRAIGHT_DEG:
        angle = plain_number(abs(setup.key_azimuth_deg), 0)
        lines.append(say(s.DRAW_AROUND, angle=angle, side=camera_side(setup.key_azimuth_deg)))
    return lines


def rim_lines(setup: Setup) -> list[str]:
    """The rim light, how far it stands and how far round."""
    angle = plain_number(abs(setup.rim_azimuth_deg), 0)
    around = say(s.DRAW_AROUND, angle=angle, side=camera_side(setup.rim_azimuth_deg))
    return [say(s.DRAW_RIM), distance_words(setup.rim_distance_mm), around]


def camera_lines(setup: Setup) -> list[str]:
    """The camera, how far it stands and how much it sees."""
    angle = plain_number(figures.view_angles_deg(setup)[0], 0)
    return [
        say(s.DRAW_CAMERA),
        distance_words(setup.distance_mm),
        say(s.DRAW_VIEW, angle=angle),
    ]


def background_lines(setup: Setup) -> list[str]:
    """The background and how far behind it hangs."""
    return [say(s.DRAW_BACKGROUND), distance_words(setup.background_distance_mm)]


def fill_lines(setup: Setup) -> list[str]:
    """The fill, which a set-up gives no place."""
    near_lens = abs(setup.key_azimuth_deg) < figures.KEY_NEAR_LENS_DEG
    return [say(s.DRAW_FILL), say(s.DRAW_FILL_LENS if near_lens else s.DRAW_FILL_METER)]


def chin_line(setup: Setup) -> str:
    """How far the chin is raised or lowered."""
    if abs(setup.chin_deg) < LEAST_DEG:
        return say(s.DRAW_CHIN_LEVEL)
    text = s.DRAW_CHIN_UP if setup.chin_deg > 0 else s.DRAW_CHIN_DOWN
    return say(text, angle=plain_number(abs(setup.chin_deg), 0))


def height_lines(what: str, height_mm: float) -> list[str]:
    """A thing and how far above or below the eyes it stands."""
    if abs(height_mm) < LEVEL_MM:
        return [say(what), say(s.DRAW_AT_EYES)]
    text = s.DRAW_ABOVE if height_mm > 0 else s.DRAW_BELOW
    return [say(what), say(text, length=length_words(abs(height_mm)))]
