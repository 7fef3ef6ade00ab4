"""The sun in words for the photographer: when, which way, and what must not be done."""

from sitwell.scene.setup import Setup
from sitwell.scene.sun import (
    Spell,
    Sun,
    camera_bearing_for,
    face_bearing_deg,
    gaze_to_sun_deg,
    highest,
    lens_to_sun_deg,
    under_the_sun,
)

# Both are design choices: no published angle says where squinting or glare begins.
SQUINT_DEG = 40.0
INTO_LENS_DEG = 30.0
NOBODY = "Nobody looks at the sun: neither sitter nor photographer, and not through a finder."
POINTS = (
    "north",
    "north-east",
    "east",
    "south-east",
    "south",
    "south-west",
    "west",
    "north-west",
)


def bearing_words(bearing_deg: float) -> str:
    """A bearing as a person with a compass needs it: "south-east (130 degrees)"."""
    point = POINTS[round(bearing_deg / 45.0) % 8]
    return f"{point} ({round(bearing_deg) % 360} degrees)"


def now_words(setup: Setup, sun: Sun) -> tuple[str, ...]:
    """Which way to face now, how the sun's height fits, and what to heed."""
    if sun.elevation_deg <= 0.0:
        return ("The sun has set.",)
    bearing = camera_bearing_for(sun, setup)
    off = sun.elevation_deg - setup.key_elevation_deg
    height = (
        "its height is right"
        if abs(off) < 5.0
        else f"it stands {abs(off):.0f} degrees {'higher' if off > 0 else 'lower'} than planned"
    )
    return (
        f"Now the camera looks {bearing_words(bearing)} and the sitter's nose points "
        f"{bearing_words(face_bearing_deg(bearing, setup))}; the sun is at "
        f"{sun.elevation_deg:.0f} degrees, {height}.",
        *heed_words(under_the_sun(setup, sun, bearing)),
    )


def day_words(setup: Setup, track: list[Sun], found: list[Spell]) -> tuple[str, ...]:
    """When on this day the sun is where the set-up wants it, or why it never is."""
    if found:
        return tuple(
            f"From {spell.start:%H:%M} to {spell.end:%H:%M} the sun is where the set-up wants it, "
            f"best at {spell.best.when:%H:%M}, with the camera looking "
            f"{bearing_words(spell.camera_bearing_deg)}."
            for spell in found
        )
    top = highest(track)
    if top.elevation_deg <= 0.0:
        return ("On this day the sun does not rise here.",)
    return (
        "On this day the sun never stands where the set-up wants it, "
        f"{setup.key_elevation_deg:.0f} degrees high; it climbs to "
        f"{top.elevation_deg:.0f} degrees at {top.when:%H:%M}. "
        "Turn the camera, take another day, or work in open shade.",
    )


def heed_words(setup: Setup) -> tuple[str, ...]:
    """Warnings for a set-up whose key is the sun."""
    notes = [NOBODY]
    gaze = gaze_to_sun_deg(setup)
    if gaze < SQUINT_DEG:
        notes.append(
            f"The sun is {gaze:.0f} degrees from where the sitter looks and makes them squint: "
            "turn both farther round, wait, or shade it, and let them open their eyes only for "
            "the frame."
        )
    if lens_to_sun_deg(setup) < INTO_LENS_DEG:
        notes.append(
            "The sun stands almost before the lens: shade the lens, and frame on the screen, not "
            "through an optical finder."
        )
    return tuple(notes)
