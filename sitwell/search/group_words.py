"""What is said of a group beyond what is said of one sitter; for the photographer to read."""

from collections.abc import Mapping

GROUP_GUARD_SENTENCES: Mapping[str, str] = {
    "everyone sharp": "the nearest and the farthest eyes would not both be sharp",
    "nobody covered": "one head would cover another",
    "nobody shaded": "one sitter would stand in another’s light",
    "even light": "the key would light one face clearly more than another",
    "even size": "one face would look clearly larger than another",
    "walls": "the key would stand outside the walls",
    "key out of picture": "the key would stand in the picture",
}
NOTE_GUARD = "{Who}: this set-up does not keep a guard: {guard}."
NOTE_GROUP_GUARD = "This set-up does not keep a guard of the group: {guard}."
NOTE_SMALL_LOSS = "{Who}: this set-up gives up something on {feature} for the sake of the others."
NOTE_ONE_CATCHLIGHT = "{Who}: only one eye carries a catchlight."
NOTE_NO_WISH = "Nobody made a wish, so nothing is played down or brought out."
CONFLICT_BETWEEN = (
    "{way} serves {first} of {one} and works against {second} of {other}; it stays between them."
)
