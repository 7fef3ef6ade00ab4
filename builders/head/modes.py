"""Which morph targets become sliders, under which names and with what spread.

Left out on purpose: everything that stands for age, sex or ethnicity, and everything that only
moves the whole head. A slider is half the difference between the two ends of a pair, so +1 is the
end named second. Two-sided pairs become one slider for both sides and one, ``_uneven``, that is
positive where own left gains what own right loses.
"""

from dataclasses import dataclass

from builders.head.source import Floats, Source

SIGMA = 0.2  # spread of a slider over the population, in slider units
SIGMA_UNEVEN = 0.06  # the two sides of one face differ less than two faces do
SIGMA_ASYM = 0.12
SIGMA_OUTLINE = 0.12  # whole-head outlines reach further than the other sliders

# where 0.2 spreads random heads less or more than ANSUR II people
OTHER_SIGMA = {
    "neck_girth": 0.6,
    "neck_width": 0.3,
    "neck_depth": 0.3,
    "neck_under_chin": 0.4,
    "chin_height": 0.25,
    "chin_prominence": 0.25,
    "chin_bite": 0.25,
    "head_depth": 0.3,
    "head_height": 0.17,
}

# name -> (folder, stem, minus end, plus end); an empty end is the mean head
MIDLINE = {
    "head_back_depth": ("head", "head-back-scale-depth", "decr", "incr"),
    "head_fullness": ("head", "head-fat", "decr", "incr"),
    "head_depth": ("head", "head-scale-depth", "decr", "incr"),
    "head_width": ("head", "head-scale-horiz", "decr", "incr"),
    "head_height": ("head", "head-scale-vert", "decr", "incr"),
    "head_face_slope": ("head", "head-angle", "in", "out"),
    "head_oval": ("head", "head", "", "oval"),
    "head_round": ("head", "head", "", "round"),
    "head_rectangular": ("head", "head", "", "rectangular"),
    "head_square": ("head", "head", "", "square"),
    "head_narrow_top": ("head", "head", "", "triangular"),
    "head_narrow_chin": ("head", "head", "", "invertedtriangular"),
    "head_diamond": ("head", "head", "", "diamond"),
    "forehead_height": ("forehead", "forehead-scale-vert", "decr", "incr"),
    "forehead_temple": ("forehead", "forehead-temple", "decr", "incr"),
    "forehead_forward": ("forehead", "forehead-trans", "backward", "forward"),
    "brow_angle": ("eyebrows", "eyebrows-angle", "down", "up"),
    "brow_forward": ("eyebrows", "eyebrows-trans", "backward", "forward"),
    "brow_height": ("eyebrows", "eyebrows-trans", "down", "up"),
    "nose_base": ("nose", "nose-base", "down", "up"),
    "nose_compression": ("nose", "nose-compression", "uncompress", "compress"),
    "nose_curve": ("nose", "nose-curve", "concave", "convex"),
    "nose_flaring": ("nose", "nose-flaring", "decr", "incr"),
    "nose_hump": ("nose", "nose-hump", "decr", "incr"),
    "nose_nostril_angle": ("nose", "nose-nostrils-angle", "down", "up"),
    "nose_nostril_width": ("nose", "nose-nostrils-width", "decr", "incr"),
    "nose_tip_height": ("nose", "nose-point", "down", "up"),
    "nose_tip_width": ("nose", "nose-point-width", "decr", "incr"),
    "nose_depth": ("nose", "nose-scale-depth", "decr", "incr"),
    "nose_width": ("nose", "nose-scale-horiz", "decr", "incr"),
    "nose_length": ("nose", "nose-scale-vert", "decr", "incr"),
    "nose_septum_angle": ("nose", "nose-septumangle", "decr", "incr"),
    "nose_forward": ("nose", "nose-trans", "backward", "forward"),
    "nose_height": ("nose", "nose-trans", "down", "up"),
    "nose_volume": ("nose", "nose-volume", "decr", "incr"),
    "nose_width_root": ("nose", "nose-width1", "decr", "incr"),
    "nose_width_middle": ("nose", "nose-width2", "decr", "incr"),
    "nose_width_wings": ("nose", "nose-width3", "decr", "incr"),
    "mouth_corners": ("mouth", "mouth-angles", "down", "up"),
    "mouth_cupids_bow": ("mouth", "mouth-cupidsbow", "decr", "incr"),
    "mouth_cupids_bow_width": ("mouth", "mouth-cupidsbow-width", "decr", "incr"),
    "mouth_dimples": ("mouth", "mouth-dimples", "out", "in"),
    "mouth_folds": ("mouth", "mouth-laugh-lines", "out", "in"),
    "mouth_lower_lip_ends": ("mouth", "mouth-lowerlip-ext", "down", "up"),
    "mouth_lower_lip_height": ("mouth", "mouth-lowerlip-height", "decr", "incr"),
    "mouth_lower_lip_middle": ("mouth", "mouth-lowerlip-middle", "down", "up"),
    "mouth_lower_lip_volume": ("mouth", "mouth-lowerlip-volume", "decr", "incr"),
    "mouth_lower_lip_width": ("mouth", "mouth-lowerlip-width", "decr", "incr"),
    "mouth_philtrum": ("mouth", "mouth-philtrum-volume", "decr", "incr"),
    "mouth_depth": ("mouth", "mouth-scale-depth", "decr", "incr"),
    "mouth_width": ("mouth", "mouth-scale-horiz", "decr", "incr"),
    "mouth_thickness": ("mouth", "mouth-scale-vert", "decr", "incr"),
    "mouth_forward": ("mouth", "mouth-trans", "backward", "forward"),
    "mouth_height": ("mouth", "mouth-trans", "down", "up"),
    "mouth_upper_lip_ends": ("mouth", "mouth-upperlip-ext", "down", "up"),
    "mouth_upper_lip_height": ("mouth", "mouth-upperlip-height", "decr", "incr"),
    "mouth_upper_lip_middle": ("mouth", "mouth-upperlip-middle", "down", "up"),
    "mouth_upper_lip_volume": ("mouth", "mouth-upperlip-volume", "decr", "incr"),
    "mouth_upper_lip_width": ("mouth", "mouth-upperlip-width", "decr", "incr"),
    "chin_bones": ("chin", "chin-bones", "decr", "incr"),
    "chin_cleft": ("chin", "chin-cleft", "decr", "incr"),
    "chin_height": ("chin", "chin-height", "decr", "incr"),
    "chin_jaw_drop": ("chin", "chin-jaw-drop", "decr", "incr"),
    "chin_bite": ("chin", "chin-prognathism", "decr", "incr"),
    "chin_prominence": ("chin", "chin-prominent", "decr", "incr"),
    "chin_width": ("chin", "chin-width", "decr", "incr"),
    "chin_triangle": ("chin", "chin", "", "triangle"),
    "neck_girth": ("neck", "measure-neck-circ", "decr", "incr"),
    "neck_back_depth": ("neck", "neck-back-scale-depth", "decr", "incr"),
    "neck_under_chin": ("neck", "neck-double", "decr", "incr"),
    "neck_depth": ("neck", "neck-scale-depth", "decr", "incr"),
    "neck_width": ("neck", "neck-scale-horiz", "decr", "incr"),
    "neck_forward": ("neck", "neck-trans", "backward", "forward"),
}

# name -> (folder, stem without its side, minus end, plus end)
TWO_SIDED = {
    "ear_flap": ("ears", "ear-flap", "decr", "incr"),
    "ear_lobe": ("ears", "ear-lobe", "decr", "incr"),
    "ear_lean": ("ears", "ear-rot", "backward", "forward"),
    "ear_size": ("ears", "ear-scale", "decr", "incr"),
    "ear_breadth": ("ears", "ear-scale-depth", "decr", "incr"),
    "ear_length": ("ears", "ear-scale-vert", "decr", "incr"),
    "ear_pointed": ("ears", "ear-shape", "round", "pointed"),
    "ear_forward": ("ears", "ear-trans", "backward", "forward"),
    "ear_height": ("ears", "ear-trans", "down", "up"),
    "ear_wing": ("ears", "ear-wing", "decr", "incr"),
    "eye_bag": ("eyes", "eye-bag", "decr", "incr"),
    "eye_bag_height": ("eyes", "eye-bag-height", "decr", "incr"),
    "eye_bag_place": ("eyes", "eye-bag", "in", "out"),
    "eye_inner_corner": ("eyes", "eye-corner1", "down", "up"),
    "eye_outer_corner": ("eyes", "eye-corner2", "down", "up"),
    "eye_inner_fold": ("eyes", "eye-epicanthus", "out", "in"),
    "eye_fold_angle": ("eyes", "eye-eyefold-angle", "down", "up"),
    "eye_fold_bulge": ("eyes", "eye-eyefold", "concave", "convex"),
    "eye_fold_height": ("eyes", "eye-eyefold", "down", "up"),
    "eye_opening_inner": ("eyes", "eye-height1", "decr", "incr"),
    "eye_opening": ("eyes", "eye-height2", "decr", "incr"),
    "eye_opening_outer": ("eyes", "eye-height3", "decr", "incr"),
    "eye_inner_end": ("eyes", "eye-push1", "in", "out"),
    "eye_outer_end": ("eyes", "eye-push2", "in", "out"),
    "eye_size": ("eyes", "eye-scale", "decr", "incr"),
    "eye_height": ("eyes", "eye-trans", "down", "up"),
    "eye_apart": ("eyes", "eye-trans", "in", "out"),
    "cheek_bones": ("cheek", "cheek-bones", "decr", "incr"),
    "cheek_inner": ("cheek", "cheek-inner", "decr", "incr"),
    "cheek_height": ("cheek", "cheek-trans", "down", "up"),
    "cheek_volume": ("cheek", "cheek-volume", "decr", "incr"),
}

# name -> (folder, stem, minus end, plus end); + moves the feature to the sitter's own left
SIDEWAYS = {
    "nose_lean": ("nose", "nose-trans", "in", "out"),
    "mouth_shift": ("mouth", "mouth-trans", "in", "out"),
}

ASYM = ("brown", "cheek", "ear", "eye", "jaw", "mouth", "nose", "temple", "top")
ASYM_WORD = {"brown": "brow"}

# the two ends of these are not opposites: both are kept
UNLIKE_ENDS = ("nose_volume", "chin_bones", "chin_cleft", "eye_bag")

# units that need parts the mesh does not have, or that only correct another unit
NO_EXPRESSION = ("tongueOut", "mouthClose")


@dataclass(frozen=True, slots=True, kw_only=True)
class Mode:
    """One slider in source units: the odd part, what |value| adds (or None), and its spread."""

    name: str
    odd_dm: Floats
    even_dm: Floats | None
    sigma: float


def shape_modes(source: Source) -> list[Mode]:
    """Every shape slider, in the order the data file keeps."""
    modes = [
        _pair(source, name, ends, "", OTHER_SIGMA.get(name, SIGMA))
        for name, ends in MIDLINE.items()
    ]
    modes += [_pair(source, name, ends, "", SIGMA_ASYM) for name, ends in SIDEWAYS.items()]
    for name, ends in TWO_SIDED.items():
        modes += _both_and_uneven(source, name, ends)
    for part in ASYM:
        modes += _asymmetries(source, part)
    return modes


def _pair(
    source: Source, name: str, ends: tuple[str, str, str, str], side: str, sigma: float
) -> Mode:
    folder, stem, minus_end, plus_end = ends
    plus = source.target(f"{folder}/{side}{stem}-{plus_end}")
    if not minus_end:
        return Mode(name=name, odd_dm=plus, even_dm=None, sigma=SIGMA_OUTLINE)
    minus = source.target(f"{folder}/{side}{stem}-{minus_end}")
    even = (plus + minus) / 2 if name in UNLIKE_ENDS else None
    return Mode(name=name, odd_dm=(plus - minus) / 2, even_dm=even, sigma=sigma)


def _both_and_uneven(
    source: Source, name: str, ends: tuple[str, str, str, str]
) -> tuple[Mode, Mode]:
    left = _pair(source, name, ends, "l-", SIGMA)
    right = _pair(source, name, ends, "r-", SIGMA)
    # |value| of an uneven slider bends both sides alike, so only the even one keeps that part
    even = None
    if left.even_dm is not None and right.even_dm is not None:
        even = left.even_dm + right.even_dm
    return (
        Mode(name=name, odd_dm=left.odd_dm + right.odd_dm, even_dm=even, sigma=SIGMA),
        Mode(
            name=f"{name}_uneven",
            odd_dm=left.odd_dm - right.odd_dm,
            even_dm=None,
            sigma=SIGMA_UNEVEN,
        ),
    )


def _asymmetries(source: Source, part: str) -> list[Mode]:
    stems = [name[:-2] for name in source.target_names("asym") if name.startswith(f"asym-{part}-")]
    word = ASYM_WORD.get(part, part)
    return [
        Mode(
            name=f"asym_{word}_{stem.rsplit('-', 1)[1]}",
            odd_dm=(source.target(f"asym/{stem}-l") - source.target(f"asym/{stem}-r")) / 2,
            even_dm=None,
            sigma=SIGMA_ASYM,
        )
        for stem in sorted(set(stems))
    ]
