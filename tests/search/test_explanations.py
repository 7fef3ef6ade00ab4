"""Leeway, reasons and collisions, each checked against the picture they speak of."""

import numpy as np
import pytest

from sitwell.brief.wishes import parse_wish
from sitwell.search.benefit import Benefit
from sitwell.search.guards import Guards, make_guards
from sitwell.search.leeway import DISTANCE
from sitwell.search.moves import MOVE_BY_NAME
from sitwell.search.sentences import END_OF_RANGE, GAIN_LOST, GUARD_SENTENCES, MOVE_WORDS

WISHES = ("ears", "nose-length")


def judged(evaluator, made, setup):
    """Benefit and broken guards by a way of our own: measures only, no studio facts."""
    names = evaluator.names
    base = evaluator.evaluate(made.baseline)
    derived = ("forehead_in_picture",)
    benefit = Benefit([parse_wish(w) for w in WISHES], (*names, *derived), np.array([*base, 0.0]))
    white = max(base[names.index(f"white_below_{s}")] for s in ("own_left", "own_right"))
    rows = [
        guard
        for guard in make_guards(
            dict(zip(names, base.tolist(), strict=True)) | {"white_below": white}
        )
        if guard.measure in names
    ]
    vector = evaluator.evaluate(setup)
    broken = {guard.sentence for guard in Guards(rows, names).broken(vector)}
    return benefit.total(np.array([*vector, 0.0])), broken


def test_leeway_holds_inside_and_its_reason_is_true_one_grid_step_outside(plan, stand_in):
    evaluator = stand_in()
    made = plan(*WISHES, evaluator=evaluator, evaluations=500)
    checked = 0
    for planned in made.setups:
        total, _ = judged(evaluator, made, planned.setup)
        for row in planned.leeway:
            move = MOVE_BY_NAME.get(row.move, DISTANCE)
            value = getattr(planned.setup, row.move)
            assert row.low <= value + 0.01
            assert value <= row.high + 0.01
            if row.move in {"f_number", "distance_mm"}:
                continue
            for end, why, sign in ((row.low, row.low_why, -1), (row.high, row.high_why, 1)):
                inside, broken = judged(
                    evaluator, made, planned.setup.with_changes(**{row.move: end})
                )
                assert not broken
                assert inside >= total - max(0.1 * total, 0.1) - 1e-9
                if why == END_OF_RANGE:
                    continue
                outside, broken = judged(
                    evaluator,
                    made,
                    planned.setup.with_changes(**{row.move: end + sign * move.grid}),
                )
                if why == GAIN_LOST:
                    assert outside < total - max(0.1 * total, 0.1)
                    checked += 1
                elif why in {GUARD_SENTENCES[n] for n in ("nostrils", "far ear", "nose line")}:
                    assert why in broken
                    checked += 1
    assert checked >= 6


def test_a_reason_tells_what_is_lost_when_the_move_is_taken_back(plan, stand_in):
    evaluator = stand_in()
    made = plan(*WISHES, evaluator=evaluator, evaluations=500)
    for planned in made.setups:
        total, _ = judged(evaluator, made, planned.setup)
        for reason in planned.reasons:
            if reason.move in {"focal_mm", "crop", "key_size_mm"}:
                continue
            assert reason.to_value == getattr(planned.setup, reason.move)
            assert reason.from_value == getattr(made.baseline, reason.move)
            without, _ = judged(
                evaluator,
                made,
                planned.setup.with_changes(**{reason.move: reason.from_value}),
            )
            assert reason.contribution == pytest.approx(total - without, abs=1e-9)
        contributions = [reason.contribution for reason in planned.reasons]
        assert contributions == sorted(contributions, reverse=True)
    turn = next(r for r in made.setups[-1].reasons if r.move == "turn_deg")
    assert turn.sentence.startswith("Taking the turn back loses most of what it does for the ears.")


def test_a_collision_with_a_guard_is_true_within_two_steps(plan, stand_in):
    evaluator = stand_in()
    made = plan(*WISHES, evaluator=evaluator, evaluations=500)
    assert made.conflicts
    for conflict in made.conflicts:
        assert conflict.move in MOVE_BY_NAME
        assert MOVE_WORDS[conflict.move] in conflict.sentence
        assert conflict.first in WISHES
    middle = made.setups[len(made.setups) // 2].setup
    nostrils = [c for c in made.conflicts if c.second == "nostrils"]
    for conflict in nostrils:
        move = MOVE_BY_NAME[conflict.move]
        ways = [
            judged(
                evaluator,
                made,
                middle.with_changes(
                    **{conflict.move: getattr(middle, conflict.move) + count * move.step}
                ),
            )[1]
            for count in (-2, -1, 1, 2)
        ]
        assert any(GUARD_SENTENCES["nostrils"] in broken for broken in ways)
    assert nostrils
