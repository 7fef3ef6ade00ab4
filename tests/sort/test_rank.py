import dataclasses

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitwell.shoot.check import FrameReport
from sitwell.shoot.drift import Drift
from sitwell.shoot.findings import Finding
from sitwell.shoot.frame_facts import Sight
from sitwell.sort.rank import Contender, rank_burst

NAMES = ("blink", "half-blink", "focus", "nose-break", "wish", "highlights", "expression")


def report(*names, position="", focus=1.0, eyes=1.0, kept=1.0):
    return FrameReport(
        file="",
        sight=Sight(faces=1, position=position),
        findings=tuple(Finding(name=n, need=1.5, sentence=f"{n} here.", say="") for n in names),
        eye_open_ratio={"own_left": eyes},
        focus_ratio=focus,
        wish_kept=kept,
    )


def frame(file, *reports, choice=None):
    return Contender(file=file, reports=reports, choice=choice)


def order(*frames):
    return [ranked.file for ranked in rank_burst(frames).frames]


def test_the_order_of_fixing_is_the_order_of_weight():
    frames = [frame(name, report(name, kept=0.5)) for name in NAMES]
    assert order(*frames) == list(reversed(NAMES))


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("blink", "all eyes are open"),
        ("focus", "the near eye is sharp"),
        ("nose-break", "the planned lines hold"),
    ],
)
def test_the_reason_says_what_decided(name, words):
    burst = rank_burst([frame("a", report(name)), frame("b", report())])
    assert burst.best.file == "b"
    assert burst.best.reason == f"Out of 2: {words}."
    assert burst.frames[1].reason.startswith("After b: ")


@pytest.mark.parametrize(
    ("name", "words"),
    [("highlights", "skin is burnt out"), ("ear-sliver", "the far ear is a sliver")],
)
def test_what_a_frame_lost_by_is_named(name, words):
    burst = rank_burst([frame("a", report(name)), frame("b", report())])
    assert burst.frames[1].reason == f"After b: {words}."


def test_the_sharper_and_wider_of_two_good_frames_wins_and_a_tie_goes_to_the_first():
    assert order(frame("a", report(focus=0.8)), frame("b", report(focus=1.0))) == ["b", "a"]
    assert order(frame("a", report(eyes=0.7)), frame("b", report(eyes=1.0))) == ["b", "a"]
    tie = rank_burst([frame("a", report(focus=0.99)), frame("b", report(focus=1.0))])
    assert [f.reason for f in tie.frames] == [
        "As good as the other frame of its burst, and the first.",
        "As good as a, but later.",
    ]


def test_a_frame_alone_is_put_forward_and_one_without_a_face_is_not():
    assert rank_burst([frame("a", report())]).best.reason == "The only frame of its burst."
    nobody = rank_burst([frame("a", report("no-face"))])
    assert nobody.best is None
    assert nobody.frames[0].reason == "No face was found in it."


def test_a_persons_choice_wins_over_everything():
    burst = rank_burst(
        [frame("a", report()), frame("b", report("blink"), choice=3.0),
         frame("c", report(), choice=-1.0), frame("d", report("focus"), choice=5.0)]
    )  # fmt: skip
    assert [f.file for f in burst.frames] == ["d", "b", "a", "c"]
    assert burst.best.file == "d"
    assert burst.best.by_person
    assert [f.reason for f in burst.frames] == [
        "Chosen by a person.",
        "Chosen by a person.",
        "A person chose another frame of this burst.",
        "Set aside by a person.",
    ]


def test_closed_eyes_are_never_put_forward_unasked():
    burst = rank_burst([frame("a", report("blink")), frame("b", report("blink"))])
    assert burst.best is None
    assert burst.frames[0].reason == (
        "No frame of this burst has everybody's eyes open; choose one if that is meant."
    )
    assert rank_burst([frame("a", report("blink"), choice=1.0)]).best.file == "a"


def test_eyes_on_the_lens_come_before_a_line():
    assert order(frame("a", report("gaze")), frame("b", report("nose-break"))) == ["b", "a"]


def test_low_lids_weigh_more_than_a_fine_step_of_focus_and_less_than_light():
    assert order(frame("a", report(eyes=0.7)), frame("b", report(focus=0.9))) == ["b", "a"]
    assert order(frame("a", report("glare")), frame("b", report(eyes=0.7))) == ["b", "a"]


def test_of_two_that_keep_the_wish_the_one_nearer_the_planned_pose_wins():
    off = Drift(move="turn_deg", value=36.0, target=25.0, need=1.6)
    on = dataclasses.replace(off, value=26.0, need=0.2)
    burst = rank_burst(
        [
            frame("a", dataclasses.replace(report(), drifts=(off,))),
            frame("b", dataclasses.replace(report(focus=0.9), drifts=(on,))),
        ]
    )
    assert burst.best.file == "b"
    assert burst.best.reason == "Out of 2: the pose is nearer the plan."


def test_what_a_person_set_aside_is_not_put_forward_even_alone():
    assert rank_burst([frame("a", report(), choice=-1.0)]).best is None


def test_closed_eyes_in_a_group_are_named_by_where_the_person_stands():
    left, right = "camera left", "camera right"
    burst = rank_burst(
        [frame("a", report("blink", position=left), report(position=right)),
         frame("b", report(position=left), report(position=right))]
    )  # fmt: skip
    assert burst.best.file == "b"
    assert burst.frames[1].findings == ("camera left: blink here.",)
    assert burst.best_for == {}


def test_where_no_frame_serves_both_the_best_of_each_is_named():
    left, right = "camera left", "camera right"
    burst = rank_burst(
        [frame("a", report("blink", position=left), report(position=right)),
         frame("b", report(position=left), report("half-blink", position=right)),
         frame("c", report("blink", position=left), report("blink", position=right))]
    )  # fmt: skip
    assert burst.best_for == {"camera left": "b", "camera right": "a"}
    assert burst.best.file == "b"


def test_whose_eyes_spoil_a_frame_is_said_where_it_is_not_everybodys():
    open_left, open_right = report(position="camera left"), report(position="camera right")
    blink_right = report("blink", position="camera right")
    burst = rank_burst(
        [
            frame("good", open_left, open_right),
            frame("one", open_left, blink_right),
            frame("both", report("blink", position="camera left"), blink_right),
        ]
    )
    told = {ranked.file: ranked.reason for ranked in burst.frames}
    assert told["one"] == "After good: eyes are closed (camera right)."
    assert told["both"] == "After good: eyes are closed."


def test_what_was_set_aside_is_best_for_nobody():
    left, right = report(position="camera left"), report(position="camera right")
    blink_left = report("blink", position="camera left")
    blink_right = report("blink", position="camera right")
    frames = [frame("a", left, blink_right, choice=-1), frame("b", blink_left, right)]
    assert rank_burst([*frames, frame("c", left, blink_right)]).best_for == {
        "camera left": "c",
        "camera right": "b",
    }


def test_open_eyes_are_not_said_twice():
    burst = rank_burst(
        [frame("a", report("blink")), frame("b", report("half-blink")), frame("c", report())]
    )
    assert burst.best.reason == "Out of 3: the eyes are fully open."


contenders = st.builds(
    lambda names, focus, eyes, choice, file: frame(
        file, report(*names, focus=focus, eyes=eyes, kept=0.5), choice=choice
    ),
    st.lists(st.sampled_from(NAMES), unique=True),
    st.floats(0.1, 1.0),
    st.floats(0.1, 1.2),
    st.sampled_from([None, None, -1.0, 0.0, 2.0, 5.0]),
    st.uuids().map(str),
)


@given(st.lists(contenders, min_size=1, max_size=8))
def test_every_frame_keeps_its_place_whatever_the_rest(frames):
    burst = rank_burst(frames)
    assert sorted(f.file for f in burst.frames) == sorted(f.file for f in frames)
    assert [f.place for f in burst.frames] == list(range(1, len(frames) + 1))
    assert sum(f.put_forward for f in burst.frames) <= 1
    chosen = [f for f in frames if (f.choice or 0) > 0]
    if chosen:
        assert burst.best.by_person
    if len(frames) > 1:
        last = burst.frames[-1].file
        rest = [f for f in frames if f.file != last]
        assert [f.file for f in rank_burst(rest).frames] == [f.file for f in burst.frames[:-1]]


@given(contenders)
def test_taking_a_fault_away_never_costs_a_place(one):
    faultless = dataclasses.replace(
        one, file="better", reports=(dataclasses.replace(one.reports[0], findings=()),)
    )
    assert order(one, faultless)[0] == ("better" if one.reports[0].findings else one.file)
