"""Leeway, reasons and collisions, each checked against the picture they speak of."""

import numpy as np
import pytest

from sitwell.brief.wishes import parse_wish
from sitwell.search.benefit import Benefit
from sitwell.search.guards import Guards, make_guards
from sitwell.search.leeway import DISTANCE
from sitwell.search.moves import CHOICE_EFFORT, MOVE_BY_NAME
from sitwell.search.prominence import both_ears
from sitwell.search.sentences import END_OF_RANGE, GAIN_LOST, GUARD_SENTENCES
from sitwell.search.values import MOVED, STAYS, moved_words, stays_words

WISHES = ("ears", "nose-length")


def judged(evaluator, made, setup):
    """Benefit and broken guards by a way of our own: measures only, no studio facts."""
    names = evaluator.names
    base = evaluator.evaluate(made.baseline)
    derived = ("forehead_in_picture", "ear_prominence")

    def told(measures):
        read = dict(zip(names, measures.tolist(), strict=True)).__getitem__
        return np.array([*measures, 0.0, both_ears(read)])

    benefit = Benefit([parse_wish(w) for w in WISHES], (*names, *derived), told(base))
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
    return benefit.total(told(vector)), broken


def test_leeway_holds_inside_and_its_reason_is_true_one_grid_step_outside(plan, stand_in):
    evaluator = stand_in()
    made = plan(*WISHES, evaluator=evaluator, evaluations=800)
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
    made = plan(*WISHES, evaluator=evaluator, evaluations=800)
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
    side = "left" if turn.to_value > 0 else "right"
    assert turn.sentence.startswith(
        f"Without the turn toward your sitter’s own {side}, most of what this set-up does for the "
        "ears is lost."
    )


def test_a_collision_with_a_guard_is_true_within_two_steps(plan, stand_in):
    evaluator = stand_in()
    made = plan(*WISHES, evaluator=evaluator, evaluations=800)
    assert made.conflicts
    named = made.stops[len(made.stops) // 2]
    middle = named.setup
    for conflict in made.conflicts:
        assert conflict.move in MOVE_BY_NAME
        stays = stays_words(conflict.move, getattr(middle, conflict.move))
        assert conflict.sentence.endswith(f"in the {named.name} set-up {stays}.")
        assert conflict.first in WISHES
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


@pytest.mark.parametrize(
    ("move", "value", "words"),
    [
        ("turn_deg", 16.0, "the turn stays at 16° toward your sitter’s own left"),
        ("turn_deg", -16.0, "the turn stays at 16° toward your sitter’s own right"),
        ("turn_deg", 0.2, "the face stays straight on"),
        ("chin_deg", -3.0, "the chin stays 3° down"),
        ("tilt_deg", 0.0, "the head stays upright"),
        ("chin_forward_mm", 15.0, "the chin stays forward by 1.5 cm (0.6 in)"),
        ("camera_height_mm", -40.0, "the camera stays 4 cm (2 in) below the eye line"),
        ("camera_height_mm", 0.0, "the camera stays at the eye line"),
        ("f_number", 2.8, "the aperture stays at f/2.8"),
        ("key_azimuth_deg", -20.0, "the key stays 20° to camera left"),
        ("key_elevation_deg", 30.0, "the key stays 30° up"),
        ("key_distance_mm", 1300.0, "the key stays 1.30 m (4 ft 3 in) away"),
        ("fill_ratio", 3.0, "the fill stays at 3:1"),
        ("background_stops", -1.0, "the background stays 1 stop darker than the lit cheek"),
        ("background_stops", 0.0, "the background stays as bright as the lit cheek"),
    ],
)
def test_where_a_move_stays_is_said_without_signs_or_millimetres(move, value, words):
    assert stays_words(move, value) == words


def test_every_move_and_choice_has_words_for_where_it_stays_and_where_it_went():
    assert set(STAYS) == set(MOVE_BY_NAME)
    assert set(MOVED) == {*MOVE_BY_NAME, *CHOICE_EFFORT}
    assert moved_words("chin_deg", 0.0, -3.0) == "the lowered chin"
    assert moved_words("focal_mm", 85.0, 135.0) == "the longer lens"
