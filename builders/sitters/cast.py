"""Who sits: invented people, what they look like and wear."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from sitwell.demo_sitters import SITTERS

Array = NDArray[np.float64]
Rgb = tuple[float, float, float]
# A quiet face with the beginning of a smile, as people hold still for test frames.
EXPRESSION = {
    "mouth_smile_own_left": 0.22,
    "mouth_smile_own_right": 0.24,
    "cheek_squint_own_left": 0.2,
    "cheek_squint_own_right": 0.2,
}
KINDS = ("nothing", "skin", "eye", "hair", "beard", "cloth")  # what a pixel of a frame may show


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """An invented sitter.

    ``shape`` and ``expression`` are sliders of our own head; ``second`` draws one of the second
    family by that number instead. ``tone`` is the skin's linear reflectance, ``rough`` its
    microfacets' roughness, ``flush`` how much blood shows. ``melanin`` is the hair's pigment (eu-
    and pheomelanin), ``hair`` a style by name or "bald", ``beard_mm`` 0 for none. ``iris``,
    ``cloth`` and ``wall`` are linear colours; ``freckles`` and ``moles`` are counts.
    """

    name: str
    shape: Mapping[str, float] = field(default_factory=dict)
    expression: Mapping[str, float] = field(default_factory=lambda: EXPRESSION)
    second: int | None = None
    seed: int
    tone: Rgb
    rough: float = 0.42
    freckles: int = 0
    moles: int = 4
    flush: float = 0.15
    melanin: tuple[float, float]
    hair: str
    strands: int = 70_000
    strand_mm: float = 0.045
    beard_mm: float = 0.0
    iris: Rgb
    cloth: Rgb
    wall: Rgb = (0.36, 0.355, 0.345)

    @property
    def tone_array(self) -> Array:
        """The skin's reflectance as an array."""
        return np.array(self.tone)

    @property
    def ears_show(self) -> bool:
        """Whether the hair leaves the ears bare."""
        return self.hair not in ("long", "bob", "curls")

    @property
    def group(self) -> str:
        """Deep, middle or light skin."""
        bright = float(self.tone_array @ (0.2126, 0.7152, 0.0722))
        return "deep" if bright < 0.08 else "middle" if bright < 0.25 else "light"


FAIR, LIGHT, TAN = (0.54, 0.36, 0.27), (0.46, 0.285, 0.20), (0.34, 0.195, 0.125)
BROWN, DEEP = (0.20, 0.10, 0.058), (0.085, 0.042, 0.026)
_BLUE, _GREEN, _HAZEL = (0.05, 0.085, 0.12), (0.06, 0.09, 0.055), (0.075, 0.05, 0.025)
_DARK_BROWN = (0.032, 0.016, 0.008)

DEMO = (
    Person(
        name=SITTERS[0].name, shape=SITTERS[0].shape, seed=3, tone=LIGHT, moles=6, freckles=40,
        melanin=(2.8, 0.2), hair="side-parted", strands=90_000, beard_mm=1.4, iris=_BLUE,
        cloth=(0.035, 0.06, 0.105), wall=(0.40, 0.385, 0.36),
    ),
    Person(
        name=SITTERS[1].name, shape=SITTERS[1].shape, seed=5, tone=BROWN, rough=0.45, moles=4,
        melanin=(5.0, 0.3), hair="curls", strands=80_000, iris=_DARK_BROWN,
        cloth=(0.38, 0.17, 0.055), wall=(0.30, 0.335, 0.35), flush=0.1,
    ),
)  # fmt: skip

# For the benchmark: both families, deep to light skin, every kind of hair.
TRIED = (
    Person(name="fair-long", seed=21, tone=FAIR, freckles=220, melanin=(0.45, 0.75), hair="long",
           strands=110_000, iris=_GREEN, cloth=(0.30, 0.30, 0.28), flush=0.25,
           shape={"nose_lean": 0.3, "mouth_width": -0.2, "head_oval": 0.3, "chin_width": -0.2}),
    Person(name="light-short", seed=22, tone=LIGHT, melanin=(2.6, 0.3), hair="side-parted",
           beard_mm=9.0, iris=_HAZEL, cloth=(0.05, 0.09, 0.06),
           shape={"nose_hump": 0.3, "ear_wing": 0.3, "chin_prominence": 0.3}),
    Person(name="deep-coils", seed=23, tone=DEEP, melanin=(6.0, 0.3), hair="coils", rough=0.4,
           strands=80_000, iris=_DARK_BROWN, cloth=(0.42, 0.40, 0.36), second=1),
    Person(name="deep-bald", seed=24, tone=DEEP, melanin=(6.0, 0.3), hair="bald", beard_mm=6.0,
           iris=_DARK_BROWN, cloth=(0.22, 0.06, 0.05),
           shape={"nose_width_wings": 0.4, "mouth_lower_lip_volume": 0.4, "ear_size": 0.2}),
    Person(name="tan-bob", seed=25, tone=TAN, melanin=(3.2, 0.3), hair="bob", strands=100_000,
           iris=_DARK_BROWN, cloth=(0.10, 0.15, 0.16), second=2),
    Person(name="brown-curls", seed=26, tone=BROWN, melanin=(5.0, 0.3), hair="curls",
           strands=80_000, iris=_DARK_BROWN, cloth=(0.33, 0.24, 0.07), second=3),
    Person(name="light-tied", seed=27, tone=LIGHT, melanin=(1.3, 0.3), hair="tied-back",
           strands=90_000, freckles=60, iris=_BLUE, cloth=(0.25, 0.07, 0.10), second=4),
    Person(name="tan-swept", seed=28, tone=TAN, melanin=(4.0, 0.3), hair="swept-back",
           strands=90_000, iris=_HAZEL, cloth=(0.07, 0.07, 0.08),
           shape={"brow_forward": 0.3, "ear_wing": -0.2}),
)  # fmt: skip
