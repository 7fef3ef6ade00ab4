"""Where each of a group stands, and what the group must keep, in words."""

from collections.abc import Mapping

from sitwell.base.units import length_words
from sitwell.search.group import GroupSetup
from sitwell.sheet.sentences import mark, say

CAMERA_LEFT, CAMERA_RIGHT = mark("at camera left"), mark("at camera right")
MIDDLE = mark("in the middle")
NUMBER = mark("number {number} from camera left")
NEARER = mark("{place}, {length} nearer to the lens")
ON_A_BOX = mark("{place}, on a box {length} high")
TOGETHER = mark("{name}, together")
NUMBERED = mark("Set-up {number}, together")
HEIGHTS = mark("The eyes stand {step} of a face apart in height; {was} in a plain row.")
GROUP_GUARDS: Mapping[str, str] = {
    "everyone sharp": mark("everybody’s eyes sharp"),
    "nobody covered": mark("nobody covered"),
    "nobody shaded": mark("nobody in another’s shade"),
    "even light": mark("even light"),
    "even size": mark("even size"),
    "walls": mark("key inside the walls"),
    "key out of picture": mark("key out of the picture"),
    "rim light off lens": mark("rim light off the lens"),
    "rim light in room": mark("rim light inside the room"),
}


def place_words(group: GroupSetup, index: int) -> str:
    """Where one sitter stands: from camera left, how much nearer, and on what."""
    order = group.left_to_right()
    at, count = order.index(index), len(order)
    if at == 0:
        words = say(CAMERA_LEFT)
    elif at == count - 1:
        words = say(CAMERA_RIGHT)
    else:
        words = say(MIDDLE) if count == 3 else say(NUMBER, number=at + 1)
    place = group.places[index]
    if place.forward_mm > 0:
        words = say(NEARER, place=words, length=length_words(place.forward_mm))
    if place.box_mm > 0:
        words = say(ON_A_BOX, place=words, length=length_words(place.box_mm))
    return words


def group_guard_words(name: str) -> str:
    """What a guard of the group is about."""
    return say(GROUP_GUARDS[name])
