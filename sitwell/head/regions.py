"""Names of the patches that the head's surface is painted with."""

from enum import IntEnum


class Region(IntEnum):
    """One patch of the head; every triangle of the mesh belongs to exactly one.

    SOCKET holds the surfaces nobody should see: the mouth bag and the linings behind the lids.
    NOSE_BASE is the strip between the nostrils, NOSTRIL_* the openings themselves.
    """

    SOCKET = 0
    SCALP = 1
    FOREHEAD = 2
    TEMPLE_OWN_LEFT = 3
    TEMPLE_OWN_RIGHT = 4
    BROW_OWN_LEFT = 5
    BROW_OWN_RIGHT = 6
    LID_UPPER_OWN_LEFT = 7
    LID_UPPER_OWN_RIGHT = 8
    LID_LOWER_OWN_LEFT = 9
    LID_LOWER_OWN_RIGHT = 10
    WHITE_OWN_LEFT = 11
    WHITE_OWN_RIGHT = 12
    IRIS_OWN_LEFT = 13
    IRIS_OWN_RIGHT = 14
    NOSE_ROOT = 15
    NOSE_RIDGE = 16
    NOSE_SIDE_OWN_LEFT = 17
    NOSE_SIDE_OWN_RIGHT = 18
    NOSE_TIP = 19
    NOSE_WING_OWN_LEFT = 20
    NOSE_WING_OWN_RIGHT = 21
    NOSE_BASE = 22
    NOSTRIL_OWN_LEFT = 23
    NOSTRIL_OWN_RIGHT = 24
    CHEEK_OWN_LEFT = 25
    CHEEK_OWN_RIGHT = 26
    UPPER_LIP_SKIN = 27
    LIP_UPPER = 28
    LIP_LOWER = 29
    CHIN = 30
    JAW_OWN_LEFT = 31
    JAW_OWN_RIGHT = 32
    UNDER_JAW = 33
    EAR_OWN_LEFT = 34
    EAR_OWN_RIGHT = 35
    NECK = 36

    @property
    def mirrored(self) -> "Region":
        """The same patch on the other side of the face; a midline patch is its own mirror."""
        if self.name.endswith("_OWN_LEFT"):
            return Region[self.name.replace("_OWN_LEFT", "_OWN_RIGHT")]
        return Region[self.name.replace("_OWN_RIGHT", "_OWN_LEFT")]


EYE = frozenset(
    {
        Region.WHITE_OWN_LEFT,
        Region.WHITE_OWN_RIGHT,
        Region.IRIS_OWN_LEFT,
        Region.IRIS_OWN_RIGHT,
    }
)
NOSE = frozenset(region for region in Region if region.name.startswith("NOS"))
EAR = frozenset({Region.EAR_OWN_LEFT, Region.EAR_OWN_RIGHT})
NOT_FACE = frozenset({Region.SOCKET, Region.SCALP, Region.NECK, Region.UNDER_JAW}) | EAR
FACE = frozenset(Region) - NOT_FACE
