"""What is said of a group beyond what is said of one sitter; for the photographer to read."""

from collections.abc import Mapping

from sitwell.base.words import mark

GROUP_GUARD_SENTENCES: Mapping[str, str] = {
    mark("everyone sharp"): mark("the nearest and the farthest eyes would not both be sharp"),
    mark("nobody covered"): mark("one head would cover another"),
    mark("nobody shaded"): mark("one sitter would stand in another’s light"),
    mark("even light"): mark("the key would light one face clearly more than another"),
    mark("even size"): mark("one face would look clearly larger than another"),
    mark("walls"): mark("the key would stand outside the walls"),
    mark("key out of picture"): mark("the key would stand in the picture"),
    mark("rim light off lens"): mark("the rim light would shine into the lens"),
    mark("rim light in room"): mark(
        "the rim light would not fit between the walls and the background"
    ),
}
OF_ONE = mark("{who}: {note}")
NOTE_GROUP_GUARD = mark("This set-up does not keep a guard of the group: {guard}.")
NOTE_NO_WISH = mark("Nobody made a wish, so nothing is played down or brought out.")
CONFLICT_BETWEEN = mark(
    "{way} serves {first} of {one} and works against {second} of {other}; it stays between them."
)
