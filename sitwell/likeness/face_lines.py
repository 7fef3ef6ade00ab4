"""The lines of a face that lie still on its skin: along the borders of its patches."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sitwell.head.regions import Region
from sitwell.likeness.mesh_lines import border

Ints = NDArray[np.int32]
R = Region
LIPS = (R.LIP_UPPER, R.LIP_LOWER)
NOSTRILS = (R.NOSTRIL_OWN_LEFT, R.NOSTRIL_OWN_RIGHT)
LIDS = (R.LID_UPPER_OWN_LEFT, R.LID_UPPER_OWN_RIGHT, R.LID_LOWER_OWN_LEFT, R.LID_LOWER_OWN_RIGHT)


@dataclass(frozen=True, slots=True, kw_only=True)
class SideLines:
    """Vertices (N,) along the lines of one side of the face, ``brow`` closed."""

    upper_lid: Ints
    lower_lid: Ints
    fold: Ints
    brow: Ints
    wing: Ints
    eyeball: tuple[Region, Region]


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceLines:
    """Vertices (N,) along the lines of a face; ``sides`` own left first."""

    jaw: Ints
    lip_top: Ints
    lip_foot: Ints
    mouth: Ints
    mouth_foot: Ints
    nose_foot: Ints
    sides: tuple[SideLines, SideLines]


def find_lines(triangles: Ints, region: NDArray[np.uint8]) -> FaceLines:
    """The lines of a head with these patches."""

    def along(one: set[Region], other: set[Region]) -> Ints:
        return border(triangles, region, one, other)

    def side(name: str) -> SideLines:
        def own(part: str) -> Region:
            return Region[f"{part}_{name}"]

        lid, brow = own("LID_UPPER"), own("BROW")
        about = {R.FOREHEAD, R.NOSE_ROOT, own("TEMPLE"), own("NOSE_SIDE")}
        return SideLines(
            upper_lid=along({lid}, {R.SOCKET}),
            lower_lid=along({own("LID_LOWER")}, {R.SOCKET}),
            fold=along({lid}, about | {brow}),
            brow=along({brow}, about | {lid}),
            wing=along({own("NOSE_WING")}, {own("CHEEK"), R.UPPER_LIP_SKIN}),
            eyeball=(own("WHITE"), own("IRIS")),
        )

    jaws = {R.JAW_OWN_LEFT, R.JAW_OWN_RIGHT, R.CHIN}
    return FaceLines(
        jaw=along(jaws, {R.UNDER_JAW, R.NECK}),
        lip_top=along({R.LIP_UPPER}, {R.UPPER_LIP_SKIN}),
        lip_foot=along({R.LIP_LOWER}, jaws),
        mouth=along({R.LIP_UPPER}, {R.SOCKET}),
        mouth_foot=along({R.LIP_LOWER}, {R.SOCKET}),
        nose_foot=along({R.NOSE_BASE}, {R.UPPER_LIP_SKIN}),
        sides=(side("OWN_LEFT"), side("OWN_RIGHT")),
    )
