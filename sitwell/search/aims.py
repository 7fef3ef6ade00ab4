"""What each wish asks of the picture: aims on measures, each in steps that a viewer just notices.

A gain of 1 is one just noticeable step in the wished direction. Few such steps are published for
faces; those that are concern millimetres of asymmetry and are carried over to shares of a face
185 mm high (hairline to chin), which is our reading, not the source's. All the others are design
choices, marked so.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from sitwell.brief.wishes import Wish

CLEAR_GLARE_DEG = 10.0  # a light this far from mirroring into the lens is clear of the pane
KINDS = ("raise", "lower", "toward", "away", "reach", "keep")
EAR_LEAST = 0.03  # of prominence: an ear that hardly shows has little to gain
WANG = "Wang et al. 2017, Aesthet Surg J 37(4):375-385"
NOSE_DEVIATION = "2015, J Oral Maxillofac Surg 73(8):1606-14"
DESIGN = "design choice"

# Just noticeable step of each measure, and where it comes from.
NOTICE: Mapping[str, tuple[float, str]] = {
    "forehead_share": (3.5 / 185, f"brow 3.5 mm, {WANG}, over a face 185 mm high"),
    "forehead_in_picture": (3.5 / 185, f"brow 3.5 mm, {WANG}, over a face 185 mm high"),
    "crown_share": (3.5 / 185, f"brow 3.5 mm, {WANG}, over a face 185 mm high"),
    "nose_length": (4.0 / 125, f"nose tip 4 mm, {WANG}, over brow to chin 125 mm"),
    "nose_width": (4.0 / 140, f"nose tip 4 mm, {WANG}, over cheekbones 140 mm"),
    "nose_bend": (
        2.5 / 185 / math.sqrt(3.0),
        f"nose deviation 2.92 deg over 50 mm, {NOSE_DEVIATION}; a straight lean's mean square",
    ),
    "ear_show_own_left": (0.006, DESIGN),
    "ear_show_own_right": (0.006, DESIGN),
    "ear_out_own_left": (3.0 / 185, DESIGN),
    "ear_out_own_right": (3.0 / 185, DESIGN),
    "ear_contrast_own_left": (0.5, DESIGN),
    "ear_contrast_own_right": (0.5, DESIGN),
    "blur_ear_own_left_share": (0.004, DESIGN),
    "blur_ear_own_right_share": (0.004, DESIGN),
    "ear_prominence": (0.125, DESIGN),  # a share of what it is straight on
    "eye_balance": (0.1, f"half of lid 2 mm in an opening of 9.7 mm, {WANG}; halving: {DESIGN}"),
    "eye_size": (0.0013, f"lids 2 mm of 9.7 mm, {WANG}, half of it: {DESIGN}"),
    "iris_cover_own_left": (0.1, DESIGN),
    "iris_cover_own_right": (0.1, DESIGN),
    "face_breadth": (4.0 / 185, DESIGN),
    "under_chin": (0.008, DESIGN),
    "jaw_edge": (0.1, DESIGN),
    "near_far_stretch": (0.03, DESIGN),
    "nose_contrast_stops": (0.5, DESIGN),
    "light_forehead_stops": (0.5, DESIGN),
    "light_ear_own_left_stops": (0.5, DESIGN),
    "light_ear_own_right_stops": (0.5, DESIGN),
    "light_eye_own_left_stops": (0.25, DESIGN),
    "light_eye_own_right_stops": (0.25, DESIGN),
    "light_under_chin_stops": (0.5, DESIGN),
    "catchlight_own_left": (1.0, DESIGN),
    "catchlight_own_right": (1.0, DESIGN),
    "broadness": (0.2, DESIGN),
    "skin_relief": (0.03, DESIGN),
    "glare_own_left_deg": (4.0, DESIGN),
    "glare_own_right_deg": (4.0, DESIGN),
    "background_stops": (1.0, DESIGN),
    "chin_forward_mm": (10.0, DESIGN),
    "camera_height_mm": (120.0, DESIGN),
    "seen_turn_deg": (6.0, DESIGN),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Aim:
    """One measure that a wish moves.

    ``kind``: "raise" and "lower" from the straight-on value; "toward" and "away" from ``target``;
    "reach" raises up to ``target`` and no further; "keep" at the straight-on value. ``cap``: steps
    beyond which more hardly counts. ``stands``: this measure is reported as the wish's own. Aims
    of one ``group`` are counted as one sum, so that what one side loses may be made up by the
    other. With a ``share_of_least`` the noticeable step is a share of the straight-on value, taken
    to be at least so much.
    """

    measure: str
    kind: str
    weight: float = 1.0
    cap: float = 4.0
    target: float = 0.0
    stands: bool = False
    group: str = ""
    share_of_least: float = 0.0

    def notice(self, baseline: float) -> float:
        """The just noticeable step, from the straight-on value."""
        step = NOTICE[self.measure][0]
        return step * max(baseline, self.share_of_least) if self.share_of_least else step


def _main(measure: str, kind: str, *, cap: float = 4.0, target: float = 0.0) -> Aim:
    return Aim(measure=measure, kind=kind, cap=cap, target=target, stands=True)


def _help(measure: str, kind: str, weight: float, cap: float = 1.5) -> Aim:
    return Aim(measure=measure, kind=kind, weight=weight, cap=cap)


def _told(measure: str, kind: str, weight: float, cap: float) -> Aim:
    return Aim(measure=measure, kind=kind, weight=weight, cap=cap, stands=True)


def _both(
    measure: str,
    kind: str,
    weight: float,
    *,
    cap: float = 4.0,
    target: float = 0.0,
    stands: bool = False,
) -> tuple[Aim, ...]:
    """The same aim for both sides, counted together."""
    return tuple(
        Aim(
            measure=measure.format(side=side),
            kind=kind,
            weight=weight,
            cap=cap,
            target=target,
            stands=stands,
            group=measure,
        )
        for side in ("own_left", "own_right")
    )


AIMS: Mapping[tuple[str, str], tuple[Aim, ...]] = {
    ("forehead", "soften"): (
        _main("forehead_share", "lower"),
        _help("crown_share", "lower", 0.2),
        _told("forehead_in_picture", "lower", 0.15, 3.0),
        _help("light_forehead_stops", "lower", 0.2),
    ),
    ("forehead", "bring-out"): (
        _main("forehead_share", "raise"),
        _help("light_forehead_stops", "raise", 0.2),
    ),
    ("thinning-hair", "soften"): (
        _main("crown_share", "lower"),
        _help("forehead_share", "lower", 0.4),
        _told("forehead_in_picture", "lower", 0.15, 3.0),
        _help("light_forehead_stops", "lower", 0.2),
        _help("background_stops", "lower", 0.2),
    ),
    ("thinning-hair", "bring-out"): (_main("crown_share", "raise"),),
    ("nose-length", "soften"): (
        _main("nose_length", "lower"),
        _help("near_far_stretch", "lower", 0.2),
    ),
    ("nose-length", "bring-out"): (_main("nose_length", "raise"),),
    ("nose-bend", "soften"): (
        _main("nose_bend", "toward"),
        _help("nose_contrast_stops", "toward", 0.3),
    ),
    ("nose-bend", "bring-out"): (
        _main("nose_bend", "away"),
        _help("nose_contrast_stops", "away", 0.3),
    ),
    ("nose-width", "soften"): (
        _main("nose_width", "lower"),
        _help("near_far_stretch", "lower", 0.2),
    ),
    ("nose-width", "bring-out"): (_main("nose_width", "raise"),),
    # How much both draw the eye, and beside it what is seen of each: softness and a ground of the
    # same tone are cheap, and would else leave both ears in view. Their light is only told; short
    # light is liked a little, for a lit ear before a wall as bright comes near it in prominence.
    ("ears", "soften"): (
        Aim(measure="ear_prominence", kind="lower", weight=0.75, share_of_least=EAR_LEAST),
        *_both("ear_out_{side}", "lower", 0.5, stands=True),
        *_both("ear_show_{side}", "lower", 0.25, stands=True),
        *_both("light_ear_{side}_stops", "lower", 0.0, stands=True),
        _help("broadness", "lower", 0.2, 2.0),
    ),
    ("ears", "bring-out"): (
        *_both("ear_show_{side}", "raise", 0.5, stands=True),
        *_both("light_ear_{side}_stops", "raise", 0.15, cap=2.0),
    ),
    ("eye-balance", "soften"): (_main("eye_balance", "toward", target=1.0),),
    ("eye-balance", "bring-out"): (_main("eye_balance", "away", target=1.0),),
    ("eye-size", "soften"): (_main("eye_size", "lower"),),
    ("eye-size", "bring-out"): (
        _main("eye_size", "raise"),
        *_both("iris_cover_{side}", "lower", 0.25, cap=2.0),
        *_both("light_eye_{side}_stops", "raise", 0.1, cap=1.5),
    ),
    ("lively-eyes", "bring-out"): (
        *_both("light_eye_{side}_stops", "raise", 0.5, cap=2.0, stands=True),
        *_both("catchlight_{side}", "raise", 1.0, cap=1.0),
    ),
    ("jaw", "soften"): (
        _main("under_chin", "lower"),
        _help("jaw_edge", "raise", 0.5, 3.0),
        _help("light_under_chin_stops", "lower", 0.2),
    ),
    ("jaw", "bring-out"): (
        _main("jaw_edge", "raise"),
        _help("under_chin", "lower", 0.5, 3.0),
    ),
    ("face-width", "soften"): (
        _main("face_breadth", "lower"),
        _help("broadness", "lower", 0.3, 2.0),
    ),
    ("face-width", "bring-out"): (
        _main("face_breadth", "raise"),
        _help("broadness", "raise", 0.3, 2.0),
    ),
    # The neck has no measure of its own: the moves themselves are the aim, and a note says so.
    ("neck", "soften"): (
        _main("chin_forward_mm", "raise", cap=1.5),
        _main("camera_height_mm", "raise", cap=1.5),
    ),
    ("neck", "bring-out"): (_main("camera_height_mm", "lower", cap=1.5),),
    ("glasses", "soften"): _both(
        "glare_{side}_deg", "reach", 1.0, target=CLEAR_GLARE_DEG, stands=True
    ),
    ("skin", "soften"): (_main("skin_relief", "lower"),),
    ("skin", "bring-out"): (_main("skin_relief", "raise"),),
    ("smile", "soften"): (),
}
# What is kept where a feature is to be left as it is, if that is not what stands for softening it.
KEPT_ALONE: Mapping[str, tuple[Aim, ...]] = {
    "ears": (
        *_both("ear_out_{side}", "lower", 0.7, stands=True),
        *_both("ear_show_{side}", "lower", 0.4, stands=True),
    ),
}
# Wishes whose two directions ask for the same: a blank look, a crooked smile or a reflection is
# never wished to be brought out.
SAME_EITHER_WAY = {
    ("lively-eyes", "soften"): ("lively-eyes", "bring-out"),
    ("glasses", "bring-out"): ("glasses", "soften"),
    ("smile", "bring-out"): ("smile", "soften"),
}


def aims_for(wish: Wish) -> tuple[Aim, ...]:
    """The aims of a wish."""
    if wish.direction == "leave":
        soft = (wish.feature, "soften")
        kept = KEPT_ALONE.get(wish.feature, AIMS[SAME_EITHER_WAY.get(soft, soft)])
        return tuple(replace(aim, kind="keep") for aim in kept if aim.stands)
    if wish.fuller_side:
        # Turned toward one's own right, the own left side comes nearer the camera.
        kind = "lower" if wish.fuller_side == "own_left" else "raise"
        return (_main("seen_turn_deg", kind, cap=2.5),)
    key = (wish.feature, wish.direction)
    return AIMS[SAME_EITHER_WAY.get(key, key)]
