"""From several sitters' wishes to one plan: one camera and key, each sitter's own moves.

All faces are searched together: the benefit is the sum over everybody's wishes, every sitter's
guards and the group's own must hold, and nobody's wishes pay for another's.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np

from sitwell.base.errors import WishError
from sitwell.base.words import tr
from sitwell.brief.kit import DEFAULT_KIT, Kit
from sitwell.brief.room import DEFAULT_ROOM, Room
from sitwell.brief.wishes import HeightWish
from sitwell.scene.measures import NAMES
from sitwell.scene.rim import rim_margin_deg
from sitwell.scene.setup import Setup
from sitwell.search import sentences as say
from sitwell.search.conflicts import LEAST_SLOPE, SWEEP, find_conflicts
from sitwell.search.find_setups import STRENGTHS, Progress
from sitwell.search.gains import find_gains
from sitwell.search.group import GroupPlan, GroupSetup, PlannedGroup
from sitwell.search.group_facts import height_step
from sitwell.search.group_leeway import (
    GroupKeeper,
    own_leeway,
    seen_by,
    shared_leeway,
    with_shared,
)
from sitwell.search.group_search import GroupSearch
from sitwell.search.group_search_space import (
    SHARED_MOVES,
    Arrangement,
    GroupSitter,
    set_group_search_space,
)
from sitwell.search.group_words import (
    CONFLICT_BETWEEN,
    NOTE_GROUP_GUARD,
    NOTE_NO_WISH,
    OF_ONE,
)
from sitwell.search.lamps import lamps_allowed, with_background_light
from sitwell.search.notes import light_notes, rim_note, sitter_notes
from sitwell.search.plan import Conflict, Leeway, Plan, PlannedSetup
from sitwell.search.reasons import find_reasons
from sitwell.search.search_space import SearchSpace, Vector
from sitwell.search.solve import Point

NOT_OF_ONE = ("eye_line_share", "head_room_share", "crop_clearance")  # of a picture of one alone
MOST_BETWEEN = 4


def make_group_plan(
    sitters: Sequence[GroupSitter],
    kit: Kit = DEFAULT_KIT,
    room: Room = DEFAULT_ROOM,
    framing: str = "head-and-shoulders",
    aspect: str = "4:5",
    *,
    height: HeightWish | None = None,
    arrangements: Sequence[Arrangement] | None = None,
    locked: Mapping[str, float | str] | None = None,
    seed: int = 0,
    evaluations: int = 600,
    progress: Progress | None = None,
    stop: Callable[[], bool] | None = None,
    measure_names: Sequence[str] = NAMES,
) -> GroupPlan:
    """Set-ups for two to five sitters together, the gentlest first.

    ``arrangements`` are the rows that may be tried (left out: every order, a step nearer, a box);
    ``locked`` holds quantities of camera and light. The rest is as for ``make_plan``.
    """
    _check(sitters)
    wishes = [wish for sitter in sitters for wish in sitter.wishes]
    held, refusals = lamps_allowed(locked or {}, wishes)
    space = set_group_search_space(
        sitters, kit, room, framing, aspect, held, arrangements, measure_names
    )
    search = GroupSearch.begin(space, height or HeightWish(), seed, evaluations, progress, stop)
    found = search.find()
    setups = tuple(_explain(search, name, found[name]) for name in STRENGTHS if name in found)
    search.tell(0.95, "conflicts")
    parts = tuple(_part(search, setups, found, i) for i in range(len(sitters)))
    search.tell(1.0, "done")
    asks = bool(wishes) or search.goal.height.direction != "leave"
    return GroupPlan(
        labels=tuple(sitter.label for sitter in sitters),
        baseline=search.goal.baseline,
        baseline_height_step=height_step(search.goal.baseline),
        setups=setups,
        parts=parts,
        conflicts=_between(search, setups[len(setups) // 2]) if setups else (),
        notes=(*refusals, *_torn_note(search), *(() if asks else (tr(NOTE_NO_WISH),))),
    )


def _torn_note(search: GroupSearch) -> tuple[str, ...]:
    owners = {owner for owner, _ in search.favoured.values()}
    return tuple(
        tr(OF_ONE, who=search.space.sitters[owner].label, note=tr(say.NOTE_OPPOSED))
        for owner in owners
    )


def _check(sitters: Sequence[GroupSitter]) -> None:
    for sitter in sitters:
        features = [wish.feature for wish in sitter.wishes]
        for feature in features:
            if features.count(feature) > 1:
                raise WishError(
                    tr(
                        "There are two wishes of {label} for '{feature}'; keep one of them.",
                        label=sitter.label,
                        feature=feature,
                    )
                )


def _explain(search: GroupSearch, name: str, point: Point) -> PlannedGroup:
    """A found place with all that a photographer needs to judge and hold it."""
    search.tell(0.75 + 0.06 * STRENGTHS.index(name), "leeway")
    setup, space = search.setup(point), search.space
    option = space.options[point.option]
    outcome = space.vector(setup, option.choice)
    goal = search.goal_of(name)
    keeper = GroupKeeper(goal, option, outcome)
    shared = shared_leeway(keeper, setup)
    _, facts = space.parts(outcome)
    means, light = space.spaces[0].means, option.choice.light
    lit = replace(
        setup,
        shared=with_background_light(
            setup.shared, means.kit, light, means.rim_lamp, locked=means.locked
        ),
    )
    return PlannedGroup(
        name=name,
        setup=lit,
        planned=tuple(
            _planned(search, name, keeper, shared, setup, lit, i) for i in range(len(space.sitters))
        ),
        guards=goal.together.states(facts),
        leeway=shared,
        height_step=height_step(setup),
        notes=(
            *(tr(NOTE_GROUP_GUARD, guard=guard.sentence) for guard in goal.together.broken(facts)),
            *_rim_notes(space.spaces[0], setup.shared),
            *light_notes(space.spaces[0], light, setup.shared),
        ),
    )


def _rim_notes(space: SearchSpace, shared: Setup) -> tuple[str, ...]:
    return (rim_note(space, shared, rim_margin_deg(shared)),) if shared.rim == "on" else ()


def _planned(
    search: GroupSearch,
    name: str,
    keeper: GroupKeeper,
    shared: tuple[Leeway, ...],
    setup: GroupSetup,
    lit: GroupSetup,
    index: int,
) -> PlannedSetup:
    """One sitter's part of a set-up, in their own frame; ``lit`` has the background's light on."""
    space, goal = search.space.spaces[index], keeper.goal
    benefit, guards = goal.benefits[index], goal.guards[index]
    own, straight = setup.own(index), goal.baseline.own(index)
    was, vector = space.vector(straight), space.vector(own)
    return PlannedSetup(
        name=name,
        setup=lit.own(index),
        measures=_measures(search, vector),
        gains=find_gains(benefit, space, was, vector),
        guards=guards.states(vector),
        leeway=(*own_leeway(keeper, setup, index), *seen_by(shared, setup, index)),
        reasons=find_reasons(space, benefit, guards, straight, own),
        notes=tuple(
            tr(OF_ONE, who=search.space.sitters[index].label, note=note)
            for note in (
                *_favour_note(search, name, index),
                *sitter_notes(space, search.goal.benefits[index], guards, own),
            )
        ),
        light=keeper.option.choice.light.daylight,
    )


def _favour_note(search: GroupSearch, name: str, index: int) -> tuple[str, ...]:
    owner, wish = search.favoured.get(name, (-1, None))
    if owner != index:
        return ()
    if wish is None:
        return (tr(say.NOTE_BETWEEN),)
    feature = search.goal.benefits[owner].wishes[wish].feature
    return (tr(say.NOTE_FAVOURS, feature=tr(say.FEATURE_WORDS[feature])),)


def _part(
    search: GroupSearch, setups: Sequence[PlannedGroup], found: Mapping[str, Point], index: int
) -> Plan:
    """One sitter's part of the whole plan, as a plan of their own."""
    space, goal = search.space.spaces[index], search.goal
    straight = goal.baseline.own(index)
    conflicts: tuple[Conflict, ...] = ()
    if setups:
        middle = setups[len(setups) // 2]
        option = search.space.options[found[middle.name].option]
        conflicts = find_conflicts(
            space,
            goal.benefits[index],
            goal.guards[index],
            option.index,
            middle.planned[index].setup,
            middle.name,
        )
    return Plan(
        baseline=straight,
        baseline_measures=_measures(search, space.vector(straight)),
        setups=tuple(setup.planned[index] for setup in setups),
        conflicts=conflicts,
        notes=(),
    )


def _between(search: GroupSearch, planned: PlannedGroup) -> tuple[Conflict, ...]:
    """What is shared and pulled one way by one sitter's wish, the other way by another's."""
    pulls: list[tuple[float, Conflict]] = []
    sitters = search.space.sitters
    for move in SHARED_MOVES:
        start = move.coordinate(getattr(planned.setup.shared, move.name))
        values = [move.value(start + move.step * step) for step in SWEEP]
        if move.name == "fill_ratio":
            values = [max(value, 1.0) for value in values]
        if move.name == "key_distance_mm":
            continue  # nearer and farther are told by the light's guards
        setups = [with_shared(planned.setup, **{move.name: value}) for value in values]
        slopes = [_slopes(search, setups, i) for i in range(len(sitters))]
        for one, other in combinations(range(len(sitters)), 2):
            for first, second in _opposed(slopes[one], slopes[other]):
                strength = min(abs(slopes[one][first]), abs(slopes[other][second]))
                rising = bool(slopes[one][first] > 0)
                features = [
                    sitters[one].wishes[first].feature,
                    sitters[other].wishes[second].feature,
                ]
                pulls.append(
                    (
                        float(strength),
                        Conflict(
                            first=f"{sitters[one].label}: {features[0]}",
                            second=f"{sitters[other].label}: {features[1]}",
                            move=move.name,
                            sentence=tr(
                                CONFLICT_BETWEEN,
                                way=tr(say.WAYS[move.name][0 if rising else 1]),
                                one=sitters[one].label,
                                other=sitters[other].label,
                                first=tr(say.FEATURE_WORDS[features[0]]),
                                second=tr(say.FEATURE_WORDS[features[1]]),
                            ),
                        ),
                    )
                )
    strongest = sorted(pulls, key=lambda pull: -pull[0])
    return tuple(conflict for _, conflict in strongest[:MOST_BETWEEN])


def _slopes(search: GroupSearch, setups: Sequence[GroupSetup], index: int) -> Vector:
    """Noticeable steps of each wish of one sitter per natural step of the swept move."""
    space, benefit = search.space.spaces[index], search.goal.benefits[index]
    gains = np.stack([benefit.by_wish(space.vector(setup.own(index))) for setup in setups])
    offsets = np.array(SWEEP) - np.mean(SWEEP)
    return np.asarray(offsets @ gains / (offsets @ offsets), dtype=np.float64)


def _opposed(one: Vector, other: Vector) -> list[tuple[int, int]]:
    return [
        (first, second)
        for first in range(one.size)
        for second in range(other.size)
        if one[first] * other[second] < 0
        and min(abs(one[first]), abs(other[second])) >= LEAST_SLOPE
    ]


def _measures(search: GroupSearch, vector: Vector) -> dict[str, float]:
    """Measures by name; what can't be read, or is of a picture of one alone, is left out."""
    named = zip(search.space.spaces[0].measure_names, vector.tolist(), strict=False)
    return {name: value for name, value in named if math.isfinite(value) and name not in NOT_OF_ONE}
