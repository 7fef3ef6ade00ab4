"""Formats of passport and identity pictures, for which no plan is meant.

Such pictures must show a level, square-on, neutral face in even light (ICAO Doc 9303 part 3, from
memory), so a pose has no place in them. The formats are common practice, no source.
"""

from sitwell.scene.setup import ID_ASPECT, Setup

# what people call them, and the aspect of each: 35 x 45 mm in most countries, 2 x 2 in in others
NAMED = {
    "35x45": ID_ASPECT,
    "35:45": ID_ASPECT,
    "3.5x4.5": ID_ASPECT,
    "2x2": "1:1",
    "51x51": "1:1",
}


def aspect_of(format_name: str) -> str:
    """The aspect of an identity picture's format by its name; any other word as it is."""
    return NAMED.get(format_name.replace(" ", "").lower(), format_name)


def is_id_format(format_name: str) -> bool:
    """Whether a format was asked for by the name of an identity picture's."""
    return aspect_of(format_name) != format_name or format_name == ID_ASPECT


def looks_like_id(setup: Setup) -> bool:
    """Whether a set-up is framed as an identity picture is: 7:9, or a tight head in a square."""
    square = setup.aspect == "1:1" and setup.framing == "tight-head"
    return setup.aspect == ID_ASPECT or square
