"""From wishes to a plan: three set-ups that differ, each with gains, guards, leeway and reasons.

The strong set-up is searched first: the most benefit within the guards. The balanced and the gentle
one are stops on the way back from it toward straight on.
"""

import math
from collections.abc import Callable, Mapping, Sequence

from sitwell.base.errors import WishError
from sitwell.base.words import tr
from sitwell.brief.comfort import Comfort
from sitwell.brief.kit import DEFAULT_KIT, Kit
from sitwell.brief.room import DEFAULT_ROOM, Room
from sitwell.brief.wishes import Wish
from sitwell.scene.measures import NAMES
from sitwell.scene.setup import Setup
from sitwell.search import sentences as say
from sitwell.search.choices import Means
from sitwell.search.conflicts import find_conflicts
from sitwell.search.find_setups import LEAST_GAIN, STRENGTHS, Progress, Search
from sitwell.search.gains import find_gains
from sitwell.search.goals import PLAIN_LOOKS, misfit
from sitwell.search.lamps import lamps_allowed, with_background_light
from sitwell.search.leeway import Keeper, find_leeway
from sitwell.search.notes import plan_notes, setup_notes
from sitwell.search.plan import Plan, PlannedSetup
from sitwell.search.reasons import find_reasons
from sitwell.search.search_space import Evaluator, SearchSpace, Vector, set_search_space
from sitwell.search.solve import Point

CROP_FRAMINGS = ("tight-head",)  # a wider picture cut into the forehead leaves no sky at all
CROP_WISHES = ("forehead", "thinning-hair")


def make_plan(
    evaluator: Evaluator,
    wishes: Sequence[Wish] = (),
    kit: Kit = DEFAULT_KIT,
    room: Room = DEFAULT_ROOM,
    comfort: Comfort | None = None,
    framing: str = "head-and-shoulders",
    aspect: str = "4:5",
    *,
    locked: Mapping[str, float | str] | None = None,
    seed: int = 0,
    evaluations: int = 1600,
    progress: Progress | None = None,
    stop: Callable[[], bool] | None = None,
    measure_names: Sequence[str] = NAMES,
) -> Plan:
    """Set-ups for a sitter's wishes within kit, room and comfort, the gentlest first.

    ``locked`` fixes set-up quantities by name. ``evaluations`` is about how many set-ups are
    looked at in all. ``progress`` is told a share 0..1 and what is being done; a ``stop`` that
    turns true ends the search with SearchStoppedError. The same seed gives the same plan.
    ``measure_names`` says in which order the evaluator answers.
    """
    _check_wishes(wishes)
    held, refusals = lamps_allowed(locked or {}, wishes)
    means = Means(kit=kit, room=room, comfort=comfort or Comfort(), locked=held)
    space = set_search_space(
        evaluator,
        measure_names,
        means,
        framing=framing,
        aspect=aspect,
        crops=_crops(wishes, framing),
    )
    search = Search.begin(space, wishes, seed, evaluations, progress, stop)
    found = search.find()
    planned = [_explain(search, name, found) for name in STRENGTHS if name in found]
    search.tell(0.95, "conflicts")
    middle = planned[len(planned) // 2]
    conflicts = find_conflicts(
        space,
        search.benefit,
        search.guards,
        found[middle.name].option,
        middle.setup,
        middle.name,
    )
    search.tell(1.0, "done")
    return Plan(
        baseline=search.baseline,
        baseline_measures=_measures(space, space.vector(search.baseline)),
        setups=tuple(planned),
        conflicts=conflicts,
        notes=(
            *refusals,
            *plan_notes(
                space,
                search.benefit,
                planned,
                space.vector(search.baseline),
                opposed=bool(search.favoured),
            ),
        ),
    )


def _explain(search: Search, name: str, found: Mapping[str, Point]) -> PlannedSetup:
    """A found place with all that a photographer needs to judge and hold it."""
    point = found[name]
    search.tell(0.7 + 0.08 * STRENGTHS.index(name), "leeway")
    setup = search.setup(point)
    vector = search.space.vector(setup)
    return PlannedSetup(
        name=name,
        setup=_with_background_light(search.space, point.option, setup),
        measures=_measures(search.space, vector),
        gains=find_gains(
            search.benefit, search.space, search.space.vector(search.baseline), vector
        ),
        guards=search.guards.states(vector),
        leeway=find_leeway(_keeper(search, name, vector), point.option, setup),
        reasons=find_reasons(
            search.space, search.benefit_of(name), search.guards, search.baseline, setup
        ),
        notes=(
            *_favour_note(search, name),
            *setup_notes(search.space, search.benefit, search.guards, point.option, setup),
        ),
        light=search.space.choices[point.option].light.daylight,
    )


def _with_background_light(space: SearchSpace, option: int, setup: Setup) -> Setup:
    means, key = space.means, space.choices[option].light
    return with_background_light(setup, means.kit, key, means.rim_lamp, locked=means.locked)


def _favour_note(search: Search, name: str) -> tuple[str, ...]:
    if name not in search.favoured:
        return ()
    wish = search.favoured[name]
    if wish is None:
        return (tr(say.NOTE_BETWEEN),)
    feature = tr(say.FEATURE_WORDS[search.benefit.wishes[wish].feature])
    return (tr(say.NOTE_FAVOURS, feature=feature),)


def _keeper(search: Search, name: str, vector: Vector) -> Keeper:
    benefit, plain = search.benefit_of(name), PLAIN_LOOKS[name]
    total = benefit.total(vector)
    if total >= LEAST_GAIN:
        worth: Callable[[Vector], float] = benefit.total
        least, lost = total - max(0.1 * total, 0.1), tr(say.GAIN_LOST)
    else:
        worth = lambda there: -misfit(search.space, plain, there)  # noqa: E731
        least, lost = worth(vector) - 1.0, tr(say.LIKENESS_LOST)
    return Keeper(
        space=search.space,
        guards=search.guards,
        worth=worth,
        least=least,
        lost_sentence=lost,
        already_broken=frozenset(g.name for g in search.guards.broken(vector)),
    )


def _check_wishes(wishes: Sequence[Wish]) -> None:
    for index, wish in enumerate(wishes):
        if any(other.feature == wish.feature for other in wishes[:index]):
            raise WishError(
                tr(
                    "There are two wishes for '{feature}'; keep one of them.",
                    feature=wish.feature,
                )
            )


def _crops(wishes: Sequence[Wish], framing: str) -> tuple[str, ...]:
    asks = any(w.feature in CROP_WISHES and w.direction == "soften" for w in wishes)
    if asks and framing in CROP_FRAMINGS:
        return ("whole-head", "into-forehead")
    return ("whole-head",)


def _measures(space: SearchSpace, vector: Vector) -> dict[str, float]:
    """Measures by name; what can't be read on this head (glasses, say) is left out."""
    named = zip(space.measure_names, vector.tolist(), strict=False)
    return {name: value for name, value in named if math.isfinite(value)}
