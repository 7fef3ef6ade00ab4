"""Notes: what a photographer should be told about a plan or a set-up, honestly and shortly."""

import math
from collections.abc import Sequence

from sitwell.base.units import distance_words, plain_number
from sitwell.base.words import tr
from sitwell.brief.kit import LightSource
from sitwell.head.surface import SIDES
from sitwell.scene.framing import distance_for_framing
from sitwell.scene.id_photo import looks_like_id
from sitwell.scene.rim_measures import HIDDEN_DEG
from sitwell.scene.setup import Setup
from sitwell.search import sentences as say
from sitwell.search.another import differing_words
from sitwell.search.benefit import Benefit
from sitwell.search.choices import NEAR_MM, SHORT_EQUIVALENT_MM
from sitwell.search.group_search_space import GroupSitter
from sitwell.search.guards import Guards
from sitwell.search.plan import ANOTHER, HARD_DEG, GuardState, Leeway, PlannedSetup
from sitwell.search.search_space import SearchSpace, Vector
from sitwell.search.spread import SURE

SHUTTERS = (30, 40, 50, 60, 80, 100, 125, 160, 200, 250, 320, 400, 500)
DARK_STOPS = -3.0  # a background that dark hair runs into (common practice, no source)
EAR_SHINES_STOPS = -3.0  # of rim light on an ear, mean over what is seen: its edge is brighter
KEY_ASIDE_DEG = 10.0
AS_MUCH = 0.95  # of the gain: less is told
GIVEN_UP = -0.3  # noticeable steps, weighed


def plan_notes(
    space: SearchSpace,
    benefit: Benefit,
    planned: Sequence[PlannedSetup],
    baseline: Vector,
    *,
    opposed: bool,
) -> tuple[str, ...]:
    """Notes on the whole plan: what can't be done, and what only words can do."""
    notes = [say.NOTE_OPPOSED if opposed else _opening(space, benefit, planned, baseline)]
    features = dict.fromkeys(wish.feature for wish in benefit.wishes if wish.direction != "leave")
    notes += [say.WISH_NOTES[feature] for feature in features if feature in say.WISH_NOTES]
    if "glasses" in features and math.isnan(space.reader(baseline)("glare_own_left_deg")):
        notes.append(say.NOTE_NO_GLASSES)
    if any(wish.feature == "smile" and wish.direction != "leave" and not wish.fuller_side
           for wish in benefit.wishes):  # fmt: skip
        notes.append(say.NOTE_FULLER_SIDE)
    if len(planned) < 3:
        notes.append(say.NOTE_FEWER[len(planned)])
    if looks_like_id(space.plain):
        notes.insert(0, say.NOTE_ID_PICTURE)
    return tuple(tr(note) for note in notes if note)


def _opening(
    space: SearchSpace, benefit: Benefit, planned: Sequence[PlannedSetup], baseline: Vector
) -> str:
    if not benefit.wishes:
        return say.NOTE_NO_WISH
    if all(wish.direction == "leave" for wish in benefit.wishes):
        return say.NOTE_ONLY_LEAVE
    if benefit.is_reached(baseline):
        return say.NOTE_REACHED
    totals = [benefit.total(space.vector(one.setup)) for one in planned]
    if max(totals) < 0.5:
        return say.NOTE_NOTHING_HELPS
    if max(totals) < 1.0:
        return say.NOTE_LITTLE
    return ""


def another_note(
    space: SearchSpace, benefit: Benefit, planned: Sequence[PlannedSetup]
) -> tuple[str, ...]:
    """What another way does otherwise, and how much of what the strong set-up gives."""
    *stops, last = planned
    if last.name != ANOTHER:
        return ()
    differs = differing_words(stops[-1].setup, last.setup)
    if last.setup.crop != stops[-1].setup.crop:
        return (tr(say.NOTE_ANOTHER, differs=differs),)
    most, other = (benefit.total(space.vector(one.setup)) for one in (stops[-1], last))
    if other >= AS_MUCH * most:
        return (tr(say.NOTE_ANOTHER_AS_MUCH, differs=differs),)
    return (tr(say.NOTE_ANOTHER_GIVES, differs=differs, share=plain_number(100 * other / most, 0)),)


def setup_notes(
    space: SearchSpace, benefit: Benefit, guards: Guards, option: int, setup: Setup
) -> tuple[str, ...]:
    """Notes on one set-up: broken guards first, then what to mind."""
    notes = [*sitter_notes(space, benefit, guards, setup), *_rim_notes(space, benefit, setup)]
    if distance_for_framing(setup) < setup.distance_mm - 20.0:
        notes.append(
            tr(
                say.NOTE_STEP_BACK,
                focal=plain_number(setup.focal_mm),
                distance=distance_words(setup.distance_mm),
            )
        )
    notes += _near_note(space, benefit, setup)
    if setup.crop == "into-forehead":
        notes.append(tr(say.NOTE_CROP))
    notes += light_notes(space, space.choices[option].light, setup)
    if setup.camera_height_mm >= 150.0 and setup.chin_deg <= 0.0:
        notes.append(tr(say.NOTE_CAMERA_HIGH))
    return tuple(notes)


def _near_note(space: SearchSpace, benefit: Benefit, setup: Setup) -> tuple[str, ...]:
    """Why a short lens stands near: for a wish that it serves, or for want of another."""

    def is_near(focal_mm: float, distance_mm: float) -> bool:
        short = space.means.camera.equivalent_mm(focal_mm) < SHORT_EQUIVALENT_MM
        return short and distance_mm < NEAR_MM

    if not is_near(setup.focal_mm, setup.distance_mm):
        return ()
    distance = distance_words(NEAR_MM)
    gains = benefit.by_wish(space.vector(setup))
    if all(is_near(c.focal_mm, c.distance_mm) for c in space.choices) or not gains.size:
        return (tr(say.NOTE_NEAR_ONLY, distance=distance),)
    feature = tr(say.FEATURE_WORDS[benefit.wishes[int(gains.argmax())].feature])
    return (tr(say.NOTE_NEAR, distance=distance, feature=feature),)


def sitter_notes(
    space: SearchSpace, benefit: Benefit, guards: Guards, setup: Setup
) -> tuple[str, ...]:
    """What a set-up costs a sitter: guards that break, what is given up, an eye without light."""
    vector = space.vector(setup)
    notes = [tr(say.NOTE_BROKEN, guard=g.sentence) for g in guards.broken(vector)]
    notes += [
        tr(say.NOTE_SMALL_LOSS, feature=tr(say.FEATURE_WORDS[wish.feature]))
        for wish, gain in zip(benefit.wishes, benefit.by_wish(vector), strict=True)
        if gain < GIVEN_UP
    ]
    if space.reader(vector)("catchlights") == 1.0:
        notes.append(tr(say.NOTE_ONE_CATCHLIGHT))
    return tuple(notes)


def unseen_notes(sitter: GroupSitter) -> tuple[str, ...]:
    """For each wish about what no frame shows, what would tell, in place of a number."""
    asked = [wish.feature for wish in sitter.wishes if wish.feature in sitter.unseen]
    return tuple(dict.fromkeys(tr(say.NOTE_UNSEEN[feature]) for feature in asked))


def unsure_notes(states: Sequence[GuardState]) -> tuple[str, ...]:
    """Guards that hold on the fitted head, but not on nine in ten that it may be."""
    return tuple(
        tr(
            say.NOTE_UNSURE,
            share=plain_number(100.0 * (1.0 - state.held_by), 0),
            guard=tr(say.GUARD_SENTENCES[state.name]),
        )
        for state in states
        if state.holds and state.held_by is not None and state.held_by < SURE
    )


def hard_notes(leeway: Sequence[Leeway], setup: Setup) -> tuple[str, ...]:
    """Turn, chin or tilt that breaks a guard within a few degrees to one side."""
    return tuple(
        tr(say.NOTE_HARD, move=tr(say.HARD_MOVES[row.move]), least=plain_number(HARD_DEG, 0))
        for row in leeway
        if row.move in say.HARD_MOVES
        and row.is_hard(getattr(setup, row.move), but=(tr(say.GAIN_LOST), tr(say.LIKENESS_LOST)))
    )


def light_notes(space: SearchSpace, light: LightSource, setup: Setup) -> tuple[str, ...]:
    """What to mind under a light that stays, or that burns steadily."""
    stays = (tr(say.NOTE_STAYS[light.daylight]),) if light.stays() else ()
    return stays if light.exposure_value is None else (*stays, _handheld(space, setup))


def rim_note(space: SearchSpace, setup: Setup, flare_deg: float) -> str:
    """Where the rim light stands and why, and how far it keeps off the picture's corner."""
    if flare_deg == HIDDEN_DEG:
        return tr(say.NOTE_RIM_HIDDEN)
    if "rim_azimuth_deg" in space.means.locked:
        pattern = say.NOTE_RIM_FIXED
    elif abs(setup.key_azimuth_deg) < KEY_ASIDE_DEG:
        pattern = say.NOTE_RIM_KEY_IN_FRONT
    else:
        pattern = say.NOTE_RIM
    side = tr(say.CAMERA_SIDES[int(setup.rim_azimuth_deg > 0.0)])
    return tr(pattern, side=side, margin=plain_number(flare_deg, 0))


def _rim_notes(space: SearchSpace, benefit: Benefit, setup: Setup) -> list[str]:
    """Where the rim light stands and why; without one, what the kit's could do."""
    dark = setup.background_stops <= DARK_STOPS
    features = [wish.feature for wish in benefit.wishes]
    if setup.rim == "off":
        unused = space.means.kit.light_for("rim") is not None and "thinning-hair" not in features
        return [tr(say.NOTE_RIM_WOULD_PART)] if unused and dark else []
    read = space.reader(space.vector(setup))
    notes = [rim_note(space, setup, read("rim_flare_deg"))]
    if dark:
        notes.append(tr(say.NOTE_RIM_PARTS))
    ears = (read(f"rim_ear_{side}_stops") for side in SIDES)
    if "ears" in features and max(ears) > EAR_SHINES_STOPS:
        notes.append(tr(say.NOTE_RIM_EAR))
    return notes


def _handheld(space: SearchSpace, setup: Setup) -> str:
    equivalent_mm = space.means.camera.equivalent_mm(setup.focal_mm)
    shutter = next((s for s in SHUTTERS if s >= equivalent_mm), SHUTTERS[-1])
    return tr(say.NOTE_HANDHELD, shutter=shutter)
