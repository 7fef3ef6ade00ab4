"""The invented sitters of the demo: what is true of them and of their frames.

Nobody was photographed. ``builders/sitters/`` renders the frames from these very values.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from sitwell.brief.wishes import Wish
from sitwell.scene.framing import distance_for_framing
from sitwell.scene.setup import Setup


@dataclass(frozen=True, slots=True, kw_only=True)
class InventedSitter:
    """One invented sitter: shape sliders, what they ask for, and each frame's turn and chin."""

    name: str
    shape: Mapping[str, float]
    wishes: tuple[Wish, ...]
    poses_deg: tuple[tuple[float, float], ...]

    @property
    def taken(self) -> tuple[Setup, ...]:
        """The set-ups of the frames, the level one first."""
        setup = Setup(focal_mm=85.0, f_number=5.6, framing="tight-head", aspect="2:3")
        setup = setup.with_changes(distance_mm=distance_for_framing(setup))
        return tuple(setup.with_changes(turn_deg=t, chin_deg=c) for t, c in self.poses_deg)


SITTERS = (
    # ears that stand out, and a nose whose tip leans to their own right
    InventedSitter(
        name="first",
        shape={
            "ear_wing": 0.45,
            "ear_size": 0.2,
            "nose_lean": -0.35,
            "nose_length": 0.2,
            "chin_width": 0.15,
            "eye_opening_uneven": 0.12,
        },
        wishes=(
            Wish(feature="ears", weight=3),
            Wish(feature="nose-bend"),
            Wish(feature="eye-balance", weight=1),
        ),
        poses_deg=((0.0, 0.0), (24.0, 3.0), (-26.0, -2.0)),
    ),
    # a soft jaw, a broad nose and eyes that slant a little
    InventedSitter(
        name="second",
        shape={
            "nose_width_wings": 0.35,
            "nose_height": -0.15,
            "mouth_lower_lip_volume": 0.45,
            "mouth_upper_lip_volume": 0.4,
            "mouth_width": 0.15,
            "head_oval": 0.35,
            "cheek_volume": 0.3,
            "chin_width": -0.25,
            "chin_prominence": -0.2,
            "eye_size": 0.2,
            "ear_wing": -0.2,
            "neck_width": -0.2,
        },
        wishes=(Wish(feature="jaw", weight=2), Wish(feature="lively-eyes")),
        poses_deg=((0.0, 0.0), (-22.0, 2.0), (25.0, -3.0)),
    ),
)
