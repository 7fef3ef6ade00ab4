"""What a plan must show to be believed: invented heads, briefs, and the trade's demands on them.

Directions are common practice, no source; every number here is a design choice. Each demand looks
at a finished plan and answers None where it has nothing to say about it, else whether it is met.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from builders.families.wrapped_heads import second_faces
from sitwell.base.rotations import direction_from_angles
from sitwell.brief.wishes import parse_wish
from sitwell.head.surface import SIDES, Head, build_head
from sitwell.scene.glasses_measures import Glasses
from sitwell.scene.measures import Evaluator
from sitwell.scene.setup import Setup
from sitwell.search.goals import lone_effort
from sitwell.search.moves import MOVES
from sitwell.search.plan import Plan, PlannedSetup
from sitwell.search.planner import make_plan

# Sliders of heads whose unevenness is known: a lean, eyes that open unlike, ears, jaw, forehead.
HEADS: Mapping[str, Mapping[str, float]] = {
    "mean": {},
    "nose leans to own left": {"nose_lean": 0.6},
    "nose leans to own right": {"nose_lean": -0.6},
    "uneven eyes, high forehead": {"eye_opening_uneven": 0.5, "forehead_height": 0.5},
    "uneven eyes the other way": {"eye_opening_uneven": -0.5},
    "ears stand out": {"ear_wing": 0.8},
    "one ear stands out": {"ear_wing_own_left": 0.8, "nose_length": 0.4},
    "wide face, soft jaw": {"head_width": 0.5, "neck_under_chin": 0.5},
}
SECOND_HEADS, SECOND_SEED = 4, 3  # of another family, read from where its arrays lie
BRIEFS: tuple[tuple[str, ...], ...] = (
    ("ears:soften:3",),
    ("forehead:soften",),
    ("thinning-hair:soften",),
    ("nose-length:soften",),
    ("nose-width:soften",),
    ("nose-bend:soften",),
    ("eye-balance:soften",),
    ("eye-size:bring-out",),
    ("lively-eyes:bring-out",),
    ("jaw:soften",),
    ("face-width:soften",),
    ("skin:soften",),
    ("glasses:soften",),
    ("ears:soften:3", "nose-length:soften"),
    ("ears:soften", "forehead:soften"),
    ("nose-bend:soften:3", "ears:soften"),
    ("jaw:soften", "forehead:soften"),
    ("eye-balance:soften", "nose-bend:soften"),
    ("face-width:soften", "jaw:soften"),
    ("glasses:soften", "ears:soften"),
)
ASIDE_DEG, KEY_ASIDE_DEG = 2.0, 5.0  # less is no side
LEANS, UNLIKE = 0.008, 0.93  # a nose that leans, eyes that open unlike, as measured straight on
CLOSE_MM, SHORT_MM_EQUIVALENT = 1200.0, 70.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One head's plan for one brief, as the demands see it."""

    head: str
    brief: tuple[str, ...]
    plan: Plan

    @property
    def features(self) -> tuple[str, ...]:
        """What is wished for."""
        return tuple(parse_wish(wish).feature for wish in self.brief)

    @property
    def strong(self) -> PlannedSetup:
        """The set-up that does the most."""
        return self.plan.stops[-1]

    def moved(self, name: str) -> float:
        """How far the strong set-up moves something from straight on."""
        return float(getattr(self.strong.setup, name) - getattr(self.plan.baseline, name))

    @property
    def torn(self) -> bool:
        """Whether the set-ups serve one wish each: then there is no order among them."""
        said = " ".join(note for one in self.plan.setups for note in one.notes)
        return "The wishes pull opposite ways" in said


def second_heads(arrays: Path) -> dict[str, Head]:
    """Heads of a second family, whose unevenness is measured, from its arrays.

    What is true of them (a lean, unlike eyes) is read straight on, as of our own.
    """
    faces = second_faces(arrays, SECOND_HEADS, SECOND_SEED)
    return {f"second family {i}": face.head for i, face in enumerate(faces, start=1)}


def make_cases(
    heads: Mapping[str, Head] | None = None, briefs: tuple[tuple[str, ...], ...] = BRIEFS
) -> Iterator[Case]:
    """A plan for each head and brief, made as the command line makes it."""
    for name, head in (heads or {n: build_head(dict(s)) for n, s in HEADS.items()}).items():
        for brief in briefs:
            wishes = [parse_wish(wish) for wish in brief]
            worn = Glasses() if any(w.feature == "glasses" for w in wishes) else None
            yield Case(head=name, brief=brief, plan=make_plan(Evaluator(head, worn), wishes))


def gained(one: PlannedSetup) -> float:
    """Noticeable steps that a set-up gains on what stands for the wishes.

    The light on the ears is told there, but counted in how much they draw the eye.
    """
    return sum(gain.gain for gain in one.gains if not gain.measure.startswith("light_ear"))


def asks_less_in_order(case: Case) -> bool | None:
    """Each further set-up asks for more."""
    if case.torn or len(case.plan.stops) < 2:
        return None
    asked = [lone_effort(case.plan.baseline, one.setup) for one in case.plan.stops]
    return all(less < more for less, more in pairwise(asked))


def gives_more_in_order(case: Case) -> bool | None:
    """Each further set-up gives more of what was wished for."""
    if case.torn or len(case.plan.stops) < 2 or not case.strong.gains:
        return None
    given = [gained(one) for one in case.plan.stops]
    return all(less < more + 1e-9 for less, more in pairwise(given))


def turns_to_one_side(case: Case) -> bool | None:
    """No turn jumps from side to side."""
    return _one_side([one.setup.turn_deg for one in case.plan.stops], ASIDE_DEG, case)


def is_lit_from_one_side(case: Case) -> bool | None:
    """No key jumps from side to side."""
    return _one_side([one.setup.key_azimuth_deg for one in case.plan.stops], KEY_ASIDE_DEG, case)


def _one_side(values: list[float], aside: float, case: Case) -> bool | None:
    if case.torn or len(values) < 2:
        return None
    sides = {value > 0 for value in values if abs(value) > aside}
    return len(sides) < 2


def moves_only_grow(case: Case) -> bool | None:
    """No move shrinks or turns round from one set-up to the next."""
    if case.torn or len(case.plan.stops) < 2:
        return None
    setups = [case.plan.baseline, *(one.setup for one in case.plan.stops)]
    return all(
        _grows([move.coordinate(getattr(s, move.name)) for s in setups], move.grid)
        for move in MOVES
    )


def _grows(values: list[float], grid: float) -> bool:
    way = values[-1] - values[0]
    steps = [b - a for a, b in pairwise(values)]
    return all(step * way >= 0 or abs(step) <= grid + 1e-9 for step in steps)


def guards_hold(case: Case) -> bool | None:
    """No stop breaks a guard."""
    return all(guard.holds for one in case.plan.stops for guard in one.guards)


def far_ear_is_gone(case: Case) -> bool | None:
    """Ears: the far one is gone in the strong set-up, not a sliver."""
    if "ears" not in case.features or case.torn:
        return None
    return case.strong.measures[f"ear_show_{_far(case.strong.setup)}"] <= 0.0005


def near_ear_is_in_shade(case: Case) -> bool | None:
    """Ears: the near one lies 0.7 stop or more below the lit cheek."""
    if "ears" not in case.features or case.torn:
        return None
    shown = case.strong.measures
    lit = max(shown[f"light_cheek_{side}_stops"] for side in SIDES)
    return shown[f"light_ear_{_near(case.strong.setup)}_stops"] <= lit - 0.7


def near_ear_melts_into_the_ground(case: Case) -> bool | None:
    """Ears: the near one within a stop of what is behind it."""
    if "ears" not in case.features or case.torn:
        return None
    return abs(case.strong.measures[f"ear_contrast_{_near(case.strong.setup)}"]) <= 1.0


def near_ear_is_softer_than_the_eye(case: Case) -> bool | None:
    """Ears: the near one is blurred more than the near eye."""
    if "ears" not in case.features or case.torn:
        return None
    shown = case.strong.measures
    return shown[f"blur_ear_{_near(case.strong.setup)}_coc"] > shown["blur_near_eye_coc"] + 1.0


def looks_up_or_from_below(case: Case) -> bool | None:
    """High forehead, long nose: chin up or the camera lower."""
    alone = case.features in (("forehead",), ("nose-length",), ("thinning-hair",))
    if not alone or not case.strong.gains or gained(case.strong) < 1.0:
        return None
    return case.strong.setup.seen_pose_deg()[1] > 1.0


def is_turned_against_the_lean(case: Case) -> bool | None:
    """Bent nose: the face is turned against its lean."""
    lean = case.plan.baseline_measures["nose_lean"]
    if case.features[:1] != ("nose-bend",) or abs(lean) < LEANS:
        return None
    return case.strong.setup.turn_deg * lean < 0


def is_lit_against_the_lean(case: Case) -> bool | None:
    """Bent nose: the key stands on the side that it leans away from."""
    lean = case.plan.baseline_measures["nose_lean"]
    if case.features[:1] != ("nose-bend",) or abs(lean) < LEANS:
        return None
    return case.strong.setup.key_azimuth_deg * lean < 0


def smaller_eye_is_nearer(case: Case) -> bool | None:
    """Uneven eyes: the smaller one nearer the lens."""
    base = case.plan.baseline_measures
    if case.features[:1] != ("eye-balance",) or base["eye_balance"] > UNLIKE:
        return None
    left_is_smaller = base["eye_open_own_left"] < base["eye_open_own_right"]
    return (case.strong.setup.turn_deg < -ASIDE_DEG) == left_is_smaller


def eyes_look_up(case: Case) -> bool | None:
    """Larger eyes: chin down or forward, or the camera higher."""
    if case.features != ("eye-size",):
        return None
    setup = case.strong.setup
    return setup.seen_pose_deg()[1] < -1.0 or setup.chin_forward_mm > 0


def lively_eyes_leave_the_head_alone(case: Case) -> bool | None:
    """Lively eyes: light in both eyes, and the head stays."""
    if case.features != ("lively-eyes",):
        return None
    setup, shown = case.strong.setup, case.strong.measures
    both = sum(shown[f"catchlight_{side}"] for side in SIDES) == 2.0
    return both and abs(setup.chin_deg) <= 3.0 and abs(setup.tilt_deg) <= 3.0


def wide_face_is_turned_and_lit_short(case: Case) -> bool | None:
    """Wide face: turned and lit short."""
    if case.features != ("face-width",):
        return None
    return abs(case.strong.setup.turn_deg) >= 7.0 and case.strong.measures["broadness"] < 0.0


def soft_jaw_comes_forward(case: Case) -> bool | None:
    """Soft jaw: chin forward or seen from above, with a high key."""
    if case.features != ("jaw",):
        return None
    setup = case.strong.setup
    moved = setup.chin_forward_mm > 0 or setup.seen_pose_deg()[1] < -1.0
    return moved and setup.key_elevation_deg >= 25.0


def glasses_keep_the_eyes_lit(case: Case) -> bool | None:
    """Glasses: clear, and light stays in both eyes."""
    if "glasses" not in case.features:
        return None
    shown = case.strong.measures
    clear = all(shown[f"glare_{side}_deg"] >= 2.0 for side in SIDES)
    return clear and all(shown[f"catchlight_{side}"] == 1.0 for side in SIDES)


def little_to_gain_is_one_set_up(case: Case) -> bool | None:
    """Nothing to gain: one set-up, no fillers."""
    if case.torn or not case.strong.gains or gained(case.strong) >= 0.5:
        return None
    return len(case.plan.stops) == 1


def no_short_lens_from_near(case: Case) -> bool | None:
    """No lens under 70 mm-equivalent nearer than 1.2 m."""
    return not any(
        one.setup.distance_mm < CLOSE_MM and one.setup.focal_mm < SHORT_MM_EQUIVALENT
        for one in case.plan.stops
    )


def no_key_in_the_photographers_back(case: Case) -> bool | None:
    """No key behind and beside the lens where the photographer stands."""
    return all(_key_is_clear(one.setup) for one in case.plan.stops)


def cut_is_a_way_of_its_own(case: Case) -> bool | None:
    """High forehead, hair: a cut into it is offered, apart from the stops, which keep the head."""
    if not {"forehead", "thinning-hair"} & set(case.features):
        return None
    crops = {one.name: one.setup.crop for one in case.plan.setups}
    return crops.pop("another", "") == "into-forehead" and set(crops.values()) == {"whole-head"}


def another_way_keeps_its_guards(case: Case) -> bool | None:
    """Another way is no way out of what must hold."""
    others = [one for one in case.plan.setups if one not in case.plan.stops]
    return all(guard.holds for one in others for guard in one.guards) if others else None


def says_no_filler(case: Case) -> bool | None:
    """No set-up takes more moves and does no more."""
    return not any("takes more moves" in note for one in case.plan.stops for note in one.notes)


def _key_is_clear(setup: Setup) -> bool:
    lens, key = (
        setup.lens_mm(),
        direction_from_angles(setup.key_azimuth_deg, setup.key_elevation_deg),
    )
    toward = lens / setup.distance_mm
    along = float(toward @ key)
    if along <= 0.05:
        return True
    there_mm = setup.key_distance_mm / along
    if there_mm < setup.distance_mm / 2:
        return True
    aside_mm = there_mm * toward - setup.key_distance_mm * key
    clear_mm = float((aside_mm @ aside_mm) ** 0.5) - setup.key_size_mm / 2
    return clear_mm >= (200.0 if there_mm <= setup.distance_mm else 300.0) - 1.0


def _far(setup: Setup) -> str:
    return "own_left" if setup.turn_deg > 0 else "own_right"


def _near(setup: Setup) -> str:
    return "own_right" if setup.turn_deg > 0 else "own_left"


DEMANDS: tuple[Callable[[Case], bool | None], ...] = (
    asks_less_in_order,
    gives_more_in_order,
    turns_to_one_side,
    is_lit_from_one_side,
    moves_only_grow,
    guards_hold,
    far_ear_is_gone,
    near_ear_is_in_shade,
    near_ear_melts_into_the_ground,
    near_ear_is_softer_than_the_eye,
    looks_up_or_from_below,
    is_turned_against_the_lean,
    is_lit_against_the_lean,
    smaller_eye_is_nearer,
    eyes_look_up,
    lively_eyes_leave_the_head_alone,
    wide_face_is_turned_and_lit_short,
    soft_jaw_comes_forward,
    glasses_keep_the_eyes_lit,
    little_to_gain_is_one_set_up,
    no_short_lens_from_near,
    no_key_in_the_photographers_back,
    cut_is_a_way_of_its_own,
    another_way_keeps_its_guards,
    says_no_filler,
)
