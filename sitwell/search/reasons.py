"""Reasons: take each move back to straight on, alone, and see what the set-up loses."""

import numpy as np

from sitwell.base.words import joined, tr
from sitwell.scene.setup import Setup
from sitwell.search import sentences as say
from sitwell.search.benefit import Benefit
from sitwell.search.guards import Guards
from sitwell.search.moves import choices_between, steps_between
from sitwell.search.plan import Reason
from sitwell.search.search_space import SearchSpace, Vector
from sitwell.search.values import moved_words

LEAST_STEPS = 0.3  # a move of less than this is no move to explain
LIGHT_MOVES = ("key_azimuth_deg", "key_elevation_deg", "key_distance_mm", "key_size_mm")
MOST, SOME = 0.5, 0.05  # shares of a wish's gain


def find_reasons(
    space: SearchSpace, benefit: Benefit, guards: Guards, baseline: Setup, setup: Setup
) -> tuple[Reason, ...]:
    """A reason for every move and choice that differs from straight on, the weightiest first."""
    steps = steps_between(baseline, setup)
    moved = [name for name, count in steps.items() if abs(count) >= LEAST_STEPS]
    # What follows from another move, as a window's height from its distance, is none of its own.
    free = {move.name for move in space.free} - space.means.locked.keys()
    moved = [name for name in moved if name in free]
    moved += choices_between(baseline, setup)
    reasons = [_reason(space, benefit, guards, baseline, setup, name) for name in moved]
    return tuple(sorted(reasons, key=lambda reason: -reason.contribution))


def _reason(
    space: SearchSpace, benefit: Benefit, guards: Guards, baseline: Setup, setup: Setup, name: str
) -> Reason:
    with_it, without = space.vector(setup), space.vector(_taken_back(baseline, setup, name))
    gained = benefit.by_wish(with_it)
    lost = gained - benefit.by_wish(without)
    newly_broken = [g for g in guards.broken(without) if g not in guards.broken(with_it)]
    return Reason(
        move=name,
        from_value=_number(getattr(baseline, name)),
        to_value=_number(getattr(setup, name)),
        contribution=float(lost.sum()),
        sentence=_sentence(
            benefit,
            name,
            _words(baseline, setup, name),
            gained,
            lost,
            newly_broken[0].sentence if newly_broken else None,
        ),
    )


def _taken_back(baseline: Setup, setup: Setup, name: str) -> Setup:
    changes = {name: getattr(baseline, name)}
    if name == "focal_mm":
        # Another lens stands elsewhere, or the framing would change as well.
        changes["distance_mm"] = baseline.distance_mm
        reach_mm = 0.9 * baseline.distance_mm
        changes["camera_height_mm"] = float(np.clip(setup.camera_height_mm, -reach_mm, reach_mm))
    return setup.with_changes(**changes)


def _words(baseline: Setup, setup: Setup, name: str) -> str:
    return moved_words(name, _number(getattr(baseline, name)), _number(getattr(setup, name)))


def _sentence(
    benefit: Benefit, name: str, move: str, gained: Vector, lost: Vector, guard: str | None
) -> str:
    parts = []
    if lost.size:
        most = int(np.argmax(lost))
        feature = tr(say.FEATURE_WORDS[benefit.wishes[most].feature])
        share = lost[most] / gained[most] if gained[most] > 0 else 0.0
        if share >= MOST:
            parts.append(tr(say.REASON_MOST, move=move, feature=feature))
        elif share >= SOME:
            parts.append(tr(say.REASON_SOME, move=move, feature=feature))
        elif lost.min() < -0.1 and guard is None:
            least = tr(say.FEATURE_WORDS[benefit.wishes[int(np.argmin(lost))].feature])
            pattern = say.REASON_LIGHT if name in LIGHT_MOVES else say.REASON_BALANCE
            parts.append(tr(pattern, move=move, feature=least))
    if guard is not None:
        pattern = say.REASON_GUARD_TOO if parts else say.REASON_GUARD
        parts.append(tr(pattern, move=move, guard=guard))
    return joined(parts) if parts else tr(say.REASON_LOOK, move=move)


def _number(value: float | str) -> float:
    """A crop is a word: 0 for the whole head, 1 for a cut into the forehead."""
    return float(value != "whole-head") if isinstance(value, str) else float(value)
