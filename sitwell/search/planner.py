"""From wishes to a plan: up to three set-ups, each with gains, guards, leeway and reasons.

All faces are searched together, a lone sitter as a group of one: the benefit is the sum over
everybody's wishes, every sitter's guards and the group's own must hold, and nobody's wishes pay for
another's. The strong set-up is searched first; the balanced and the gentle one are stops on the way
back from it toward straight on.
"""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import combinations
from typing import Any

import numpy as np

from sitwell.base.errors import WishError
from sitwell.base.words import tr
from sitwell.brief.comfort import Comfort
from sitwell.brief.kit import DEFAULT_KIT, Kit
from sitwell.brief.room import DEFAULT_ROOM, Room
from sitwell.brief.wishes import HeightWish, Wish
from sitwell.scene.measures import NAMES
from sitwell.scene.rim import rim_margin_deg
from sitwell.search import sentences as say
from sitwell.search.another import asks_for_cut
from sitwell.search.conflicts import LEAST_SLOPE, SWEEP, find_conflicts
from sitwell.search.expressions import expression_notes, expressions_for
from sitwell.search.find_setups import LEAST_GAIN, STRENGTHS, Progress, Search
from sitwell.search.gains import find_gains
from sitwell.search.goals import PLAIN_LOOKS, Goal
from sitwell.search.group import GroupPlan, GroupSetup, PlannedGroup
from sitwell.search.group_facts import height_step
from sitwell.search.group_search_space import (
    SHARED_MOVES,
    Arrangement,
    GroupSitter,
    set_group_search_space,
)
from sitwell.search.group_words import CONFLICT_BETWEEN, NOTE_GROUP_GUARD, NOTE_NO_WISH, OF_ONE
from sitwell.search.lamps import lamps_allowed, with_background_light
from sitwell.search.leeway import Keeper, own_leeway, seen_by, shared_leeway
from sitwell.search.notes import (
    another_note,
    hard_notes,
    light_notes,
    plan_notes,
    rim_note,
    setup_notes,
    sitter_notes,
    unseen_notes,
    unsure_notes,
)
from sitwell.search.plan import ANOTHER, Conflict, Leeway, Plan, PlannedSetup
from sitwell.search.reasons import find_reasons
from sitwell.search.search_space import Evaluator, Vector
from sitwell.search.solve import Point

IN_ORDER = (*STRENGTHS, ANOTHER)
NOT_OF_ONE = ("eye_line_share", "head_room_share", "crop_clearance")  # of a picture of one alone
MOST_BETWEEN = 4
# About how many set-ups are looked at; each look at a group is one at everybody.
EVALUATIONS_ALONE, EVALUATIONS_TOGETHER = 1000, 600


def make_plan(
    evaluator: Evaluator,
    wishes: Sequence[Wish] = (),
    kit: Kit = DEFAULT_KIT,
    room: Room = DEFAULT_ROOM,
    comfort: Comfort | None = None,
    framing: str = "head-and-shoulders",
    aspect: str = "4:5",
    **how: Any,
) -> Plan:
    """A lone sitter's part of ``make_group_plan`` for them alone; ``how`` is as there."""
    sitter = GroupSitter(
        label="", evaluator=evaluator, wishes=tuple(wishes), comfort=comfort or Comfort()
    )
    return make_group_plan([sitter], kit, room, framing, aspect, **how).parts[0]


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
    evaluations: int | None = None,
    progress: Progress | None = None,
    stop: Callable[[], bool] | None = None,
    on_strong: Callable[[GroupSetup], None] | None = None,
    measure_names: Sequence[str] = NAMES,
) -> GroupPlan:
    """Set-ups for the wishes of one to five sitters within kit, room and comfort, gentlest first.

    ``locked`` fixes set-up quantities by name. ``arrangements`` are the rows that may be tried
    (left out: every order, a step nearer, a box). ``evaluations`` is about how many set-ups are
    looked at in all. ``progress`` is told a share 0..1 and what is being done; a ``stop`` that
    turns true ends the search with SearchStoppedError. ``on_strong`` is given the set-up that does
    the most as soon as it is found, about halfway; the plan's own may be a little easier, or surer.
    The same seed gives the same plan.
    ``measure_names`` says in which order the evaluators answer.
    """
    for sitter in sitters:
        _check_wishes(sitter)
    wishes = [wish for sitter in sitters for wish in sitter.wishes]
    held, refusals = lamps_allowed(locked or {}, wishes)
    space = set_group_search_space(
        sitters, kit, room, framing, aspect, held, arrangements, measure_names,
        _crops(wishes) if len(sitters) == 1 else ("whole-head",),
    )  # fmt: skip
    if evaluations is None:
        evaluations = EVALUATIONS_ALONE if space.is_of_one else EVALUATIONS_TOGETHER
    search = Search.begin(space, height or HeightWish(), seed, evaluations, progress, stop)
    found = search.find(on_strong)
    setups = tuple(_explain(search, name, found[name]) for name in IN_ORDER if name in found)
    search.tell(0.95, "conflicts")
    parts = tuple(_part(search, setups, found, i, refusals) for i in range(len(sitters)))
    conflicts = parts[0].conflicts if space.is_of_one else _between(search, setups)
    search.tell(1.0, "done")
    return GroupPlan(
        labels=tuple(sitter.label for sitter in sitters),
        baseline=search.goal.baseline,
        baseline_height_step=height_step(search.goal.baseline),
        setups=setups,
        parts=parts,
        conflicts=conflicts,
        notes=parts[0].notes if space.is_of_one else (*refusals, *_group_notes(search)),
    )


def _check_wishes(sitter: GroupSitter) -> None:
    features = [wish.feature for wish in sitter.wishes]
    twice = next((feature for feature in features if features.count(feature) > 1), None)
    if twice and sitter.label:
        raise WishError(
            tr(
                "There are two wishes of {label} for '{feature}'; keep one of them.",
                label=sitter.label,
                feature=twice,
            )
        )
    if twice:
        raise WishError(
            tr("There are two wishes for '{feature}'; keep one of them.", feature=twice)
        )


def _crops(wishes: Sequence[Wish]) -> tuple[str, ...]:
    return ("whole-head", "into-forehead") if any(map(asks_for_cut, wishes)) else ("whole-head",)


def _explain(search: Search, name: str, point: Point) -> PlannedGroup:
    """A found place with all that a photographer needs to judge and hold it."""
    search.tell(0.7 + 0.06 * IN_ORDER.index(name), "leeway")
    setup, space = search.setup(point), search.space
    option, goal = space.options[point.option], search.goal_of(name)
    outcome = space.vector(setup, option.choice)
    if float(goal.gains(outcome).sum()) < LEAST_GAIN:
        goal = replace(goal, plain=PLAIN_LOOKS.get(name, PLAIN_LOOKS["gentle"]))
    keeper = Keeper(goal, option, outcome)
    shared = shared_leeway(keeper, setup)
    means, light = space.spaces[0].means, option.choice.light
    lit = replace(
        setup,
        shared=with_background_light(
            setup.shared, means.kit, light, means.rim_lamp, locked=means.locked
        ),
    )
    _, facts = space.parts(outcome)
    return PlannedGroup(
        name=name,
        setup=lit,
        planned=tuple(
            _planned(search, name, keeper, shared, setup, lit, i) for i in range(len(space.sitters))
        ),
        guards=() if space.is_of_one else goal.together.states(facts),
        leeway=shared,
        height_step=height_step(setup),
        notes=() if space.is_of_one else _notes_for_all(goal, keeper, setup, facts),
    )


def _notes_for_all(goal: Goal, keeper: Keeper, setup: GroupSetup, facts: Vector) -> tuple[str, ...]:
    space, shared = goal.space.spaces[0], setup.shared
    broken = goal.together.broken(facts)
    return (
        *(tr(NOTE_GROUP_GUARD, guard=guard.sentence) for guard in broken),
        *((rim_note(space, shared, rim_margin_deg(shared)),) if shared.rim == "on" else ()),
        *light_notes(space, keeper.option.choice.light, shared),
    )


def _planned(
    search: Search,
    name: str,
    keeper: Keeper,
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
    all_wishes, choice = search.goal.benefits[index], keeper.option.index
    notes = (
        setup_notes(space, all_wishes, guards, choice, own)
        if search.space.is_of_one
        else sitter_notes(space, all_wishes, guards, own)
    )
    heads, unseen = search.possible[index], search.space.sitters[index].unseen
    gains = find_gains(all_wishes, space, was, vector)
    states = heads.with_shares(guards.states(vector), own)
    mine = heads.with_sure_turn(own_leeway(keeper, setup, index), own, guards.held(vector))
    leeway = (*mine, *seen_by(shared, setup, index))
    told = (
        *_favour_note(search, name, index),
        *notes,
        *unsure_notes(states),
        *hard_notes(leeway, own),
    )
    return PlannedSetup(
        name=name,
        setup=lit.own(index),
        measures=_measures(search, vector),
        gains=heads.with_ranges([gain for gain in gains if gain.wish not in unseen], own),
        guards=states,
        leeway=leeway,
        reasons=find_reasons(space, benefit, guards, straight, own),
        notes=_said_of(search, index, told),
        light=keeper.option.choice.light.daylight,
        expressions=tuple(one.name for one in expressions_for(all_wishes.wishes)),
    )


def _said_of(search: Search, index: int, notes: Sequence[str]) -> tuple[str, ...]:
    """Notes with the name of whom they are about, where several sit."""
    if search.space.is_of_one:
        return tuple(notes)
    who = search.space.sitters[index].label
    return tuple(tr(OF_ONE, who=who, note=note) for note in notes)


def _favour_note(search: Search, name: str, index: int) -> tuple[str, ...]:
    owner, wish = search.favoured.get(name, (-1, None))
    if owner != index:
        return ()
    if wish is None:
        return (tr(say.NOTE_BETWEEN),)
    feature = search.goal.benefits[owner].wishes[wish].feature
    return (tr(say.NOTE_FAVOURS, feature=tr(say.FEATURE_WORDS[feature])),)


def _part(
    search: Search,
    setups: Sequence[PlannedGroup],
    found: Mapping[str, Point],
    index: int,
    refusals: Sequence[str],
) -> Plan:
    """One sitter's part of the whole plan, as a plan of their own."""
    space, goal = search.space.spaces[index], search.goal
    straight = goal.baseline.own(index)
    benefit, planned = goal.benefits[index], [setup.planned[index] for setup in setups]
    stops = [one for one in planned if one.name != ANOTHER]
    notes: tuple[str, ...] = ()
    if search.space.is_of_one:
        opposed, base = bool(search.favoured), space.vector(straight)
        notes = (
            *refusals,
            *unseen_notes(search.space.sitters[0]),
            *plan_notes(space, benefit, stops, base, opposed=opposed),
            *another_note(space, benefit, planned),
            *_expression_notes(search, stops),
            *search.space.sitters[0].notes,
        )
    conflicts: tuple[Conflict, ...] = ()
    if stops:
        middle = stops[len(stops) // 2]
        option = search.space.options[found[middle.name].option].index
        own = search.setup(found[middle.name]).own(index)
        guards = goal.guards[index]
        conflicts = find_conflicts(space, benefit, guards, option, own, middle.name)
    return Plan(
        baseline=straight,
        baseline_measures=_measures(search, space.vector(straight)),
        setups=tuple(planned),
        conflicts=conflicts,
        notes=notes,
    )


def _expression_notes(search: Search, stops: Sequence[PlannedSetup]) -> tuple[str, ...]:
    sitter, names = search.space.sitters[0], search.space.spaces[0].measure_names
    asked = expressions_for(sitter.wishes)
    return expression_notes(sitter, names, stops[-1].setup, asked) if stops else ()


def _group_notes(search: Search) -> Iterator[str]:
    """What is to be said of a group's plan: whose wishes are torn, and that nobody has one."""
    for owner in dict.fromkeys(owner for owner, _ in search.favoured.values()):
        yield from _said_of(search, owner, [tr(say.NOTE_OPPOSED)])
    for index, sitter in enumerate(search.space.sitters):
        yield from _said_of(search, index, (*unseen_notes(sitter), *sitter.notes))
    wishes = [wish for sitter in search.space.sitters for wish in sitter.wishes]
    if not wishes and search.goal.height.direction == "leave":
        yield tr(NOTE_NO_WISH)


def _between(search: Search, setups: Sequence[PlannedGroup]) -> tuple[Conflict, ...]:
    """What is shared and pulled one way by one sitter's wish, the other way by another's."""
    if not setups:
        return ()
    planned = setups[len(setups) // 2]
    pulls: list[tuple[float, Conflict]] = []
    sitters = search.space.sitters
    for move in SHARED_MOVES:
        start = move.coordinate(getattr(planned.setup.shared, move.name))
        values = [move.value(start + move.step * step) for step in SWEEP]
        if move.name == "fill_ratio":
            values = [max(value, 1.0) for value in values]
        if move.name == "key_distance_mm":
            continue  # nearer and farther are told by the light's guards
        swept = [planned.setup.with_values({(None, move.name): value}) for value in values]
        slopes = [_slopes(search, swept, i) for i in range(len(sitters))]
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


def _slopes(search: Search, setups: Sequence[GroupSetup], index: int) -> Vector:
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


def _measures(search: Search, vector: Vector) -> dict[str, float]:
    """Measures by name; what can't be read on this head (glasses, say) is left out."""
    dropped = () if search.space.is_of_one else NOT_OF_ONE
    named = zip(search.space.spaces[0].measure_names, vector.tolist(), strict=False)
    return {name: value for name, value in named if math.isfinite(value) and name not in dropped}
