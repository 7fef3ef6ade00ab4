"""What is seen of ears, nose, hairline and things in the way over all frames, and what to say."""

import dataclasses
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from sitwell.base.words import mark, tr
from sitwell.brief.marks import Mark
from sitwell.brief.photos import Photo
from sitwell.face.features import see_features
from sitwell.face.landmarks import FaceReading, Pixels
from sitwell.head.obscured import EAR_COVERED
from sitwell.head.pose import Sighting
from sitwell.head.seen_parts import HAIR_OVER_EARS, Found, find_parts
from sitwell.head.seen_points import find_points, told_points
from sitwell.head.surface import SIDES
from sitwell.head.usable import is_closed

Array = NDArray[np.float64]

_EARS: Mapping[str, str] = {
    "own_left": mark("the sitter's own left ear"),
    "own_right": mark("the sitter's own right ear"),
}
_THINGS: Mapping[str, str] = {
    "glasses": mark("a pair of glasses"),
    "hat": mark("a hat"),
    "beard": mark("a beard"),
    "mask": mark("a mask"),
    "hand": mark("a hand"),
    "hair-over-brows": mark("hair over the brows"),
}
_NO_HAIRLINE = mark(
    "Where the hairline lies is clear in no frame; a mark on it would tell the forehead's height."
)
_EYES: Mapping[str, str] = {
    "own_left": mark("the sitter's own left eye"),
    "own_right": mark("the sitter's own right eye"),
}
_EYE_UNSEEN = mark("The lids of {eye} are open and clear in no frame: how far it opens is unknown.")
_OVER_HAIRLINE = frozenset({"hat", "hair-over-brows"})
# Beginnings of the names of marks that are not to be had under each thing.
_HIDDEN: Mapping[str, tuple[str, ...]] = {
    "glasses": ("nose_ridge", "eye_"),
    "mask": ("nose_", "mouth_"),
    "hand": ("nose_", "mouth_"),
    "beard": ("nose_base", "mouth_"),
    "hat": ("ear_", "hairline"),
    "hair-over-ears": ("ear_",),
    "hair-over-brows": ("hairline",),
}
IN_THE_WAY = mark(
    "'{file}' shows {thing}, and what lies under it is unknown; if that is wrong, deny it "
    "(--without {name})."
)
_HAT_OR_HAIR = mark(
    "What lies on the head in '{file}' is taken for hair; if it is a hat, say that a hat is in "
    "the way."
)
_COVERED = mark("Hair lies over {ear} in '{file}': how it stands out is unknown.")
_UNCLEAR = mark(
    "The edge of {ear} is clear in no frame; three marks on it would tell how far it stands out."
)


def look_for_parts(photo: Photo, face: FaceReading, sighting: Sighting) -> Found:
    """What one photograph shows, in its full-size pixels."""
    return look_at(photo.rgb, face.landmarks_px, sighting, photo.px_per_rgb_px)


def look_at(rgb: Pixels, landmarks_px: Array, sighting: Sighting, scale: float = 1.0) -> Found:
    """What a picture ``rgb`` shows, in the pixels of ``landmarks_px``, ``scale`` times as fine."""
    seen = see_features(rgb, landmarks_px, scale)
    found = find_parts(seen, sighting)
    return dataclasses.replace(
        found,
        marks=(*found.marks, *find_points(seen.points, sighting)),
        points=told_points(seen.points),
    )


def without_denied(found: Found, denied: frozenset[str]) -> Found:
    """The same without the things that the photographer denies."""
    return dataclasses.replace(
        found,
        things=found.things - denied,
        covered_ears=frozenset() if HAIR_OVER_EARS in denied else found.covered_ears,
        seen=tuple(each for each in found.seen if each.thing not in denied),
        asked=found.asked - denied,
    )


def with_covered_ears(found: Sequence[Found]) -> list[Found]:
    """The same with an ear among the things where hair lies over it and no frame shows it."""
    clear = frozenset().union(*(each.clear_ears for each in found))
    return [
        dataclasses.replace(
            each,
            covered_ears=(hidden := each.covered_ears - clear),
            things=each.things | {EAR_COVERED[side] for side in hidden},
        )
        for each in found
    ]


def marks_beside(
    placed: Sequence[Mark], found: Found, in_the_way: frozenset[str]
) -> tuple[Mark, ...]:
    """Marks found that no placed one names, and that nothing in the way hides."""
    named = {point.name for point in placed}
    hidden = tuple(start for thing in in_the_way for start in _HIDDEN.get(thing, ()))
    return tuple(
        point
        for point in found.marks
        if point.name not in named and not point.name.startswith(hidden)
    )


def notes_on_things(file: str, found: Found, told: frozenset[str]) -> tuple[str, ...]:
    """What one photograph shows in the way that nobody told, and whether a hat is hair."""
    shown = [name for name in _THINGS if name in found.things - told]
    ears = [side for side in SIDES if side in found.covered_ears and HAIR_OVER_EARS not in told]
    return (
        *(tr(IN_THE_WAY, file=file, thing=tr(_THINGS[name]), name=name) for name in shown),
        *(tr(_HAT_OR_HAIR, file=file) for _ in found.asked - told),
        *(tr(_COVERED, file=file, ear=tr(_EARS[side])) for side in ears),
    )


def notes_on_hairline(
    marks: Sequence[Sequence[Mark]], in_the_way: Sequence[frozenset[str]]
) -> tuple[str, ...]:
    """Ask for a mark where no frame's marks tell of the hairline, though some frame may show it."""
    if any(point.name == "hairline" for own in marks for point in own):
        return ()
    hidden = all(things & _OVER_HAIRLINE for things in in_the_way)
    return () if hidden else (tr(_NO_HAIRLINE),)


def marked_in(sightings: Sequence[Sighting]) -> frozenset[str]:
    """Names of marks that spoke of the head: lids found on closed eyes say nothing of it."""
    return frozenset(
        point.name
        for sighting in sightings
        for point in sighting.marks
        if not (point.name.startswith("lid") and is_closed(sighting.blendshapes))
    )


def notes_on_eyes(marked: frozenset[str]) -> tuple[str, ...]:
    """Which eyes' openings no mark in any frame tells of; ``marked`` names the marks that do."""
    unseen = [side for side in SIDES if f"lid_upper_{side}" not in marked]
    return tuple(tr(_EYE_UNSEEN, eye=tr(_EYES[side])) for side in unseen)


def notes_on_ears(
    found: Sequence[Found], placed: Sequence[Mark], told: frozenset[str]
) -> tuple[str, ...]:
    """Which ears no frame shows clearly, no mark tells of and nothing known hides."""
    known: set[str] = set()
    for each in found:
        known |= each.clear_ears | each.covered_ears
    known |= {side for side in SIDES for point in placed if point.name == f"ear_outer_{side}"}
    if told & {"hair-over-ears", "hat"}:
        return ()
    return tuple(tr(_UNCLEAR, ear=tr(_EARS[side])) for side in SIDES if side not in known)
