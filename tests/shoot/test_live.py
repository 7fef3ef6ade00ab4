import json
import threading

import numpy as np
import pytest
from PIL import Image

from sitwell.head.level import head_as_dict
from sitwell.head.surface import build_head
from sitwell.scene.setup import Setup
from sitwell.search.plan import Plan
from sitwell.sheet.plan_file import save_plan
from sitwell.shoot import live as live_module
from sitwell.shoot.frame_facts import Expected
from sitwell.shoot.frames import Frame, capture_time
from sitwell.shoot.journal import Journal
from sitwell.shoot.live import LiveCheck, live_for_plan, watch_and_check
from sitwell.shoot.read_frame import sitter_for

from .planned import PLANNED, SETUP
from .rendered import head_picture, need_model, save_frame


@pytest.fixture(autouse=True)
def _model():
    need_model()


def live_check(**expected):
    sitter = sitter_for(build_head(), SETUP)
    return LiveCheck(Expected(planned=PLANNED, **expected), sitter)


def frame(tmp_path, number, image, **how):
    path = save_frame(tmp_path / f"f{number}.jpg", image, subsec=str(number), **how)
    return Frame(path=path, taken=capture_time(path))


def test_a_head_that_turns_too_little_is_told_to_turn(tmp_path):
    checked = live_check().check(frame(tmp_path, 1, head_picture(0.0)))
    assert checked.nudge.about == "turn_deg"
    assert "your left shoulder" in checked.nudge.sentence


def test_a_blink_and_a_soft_frame_are_seen_once_the_sitter_is_known(tmp_path):
    live = live_check()
    for number in range(3):
        assert (
            not live.check(frame(tmp_path, number, head_picture(20.0, 4.0))).reports[0].has("blink")
        )
    shut = live.check(frame(tmp_path, 4, head_picture(20.0, 4.0, shut=1.0)))
    assert shut.reports[0].findings[0].name == "blink"
    assert shut.nudge.sentence == "One more, eyes to the lens."
    soft = live.check(frame(tmp_path, 5, head_picture(20.0, 4.0), blur=2.0))
    assert soft.reports[0].findings[0].name == "focus"


def test_the_other_persons_closed_eyes_are_called_too(tmp_path):
    def pair(shut):
        picture = Image.new("RGB", (960, 600))
        picture.paste(head_picture(20.0, 4.0), (0, 0))
        picture.paste(head_picture(shut=shut), (480, 0))
        return picture

    live = live_check()
    for number in range(3):
        live.check(frame(tmp_path, number, pair(0.0)))
    checked = live.check(frame(tmp_path, 4, pair(1.0)))
    assert checked.nudge.about == "blink"
    assert [r.has("blink") for r in checked.reports] == [False, True]


def test_a_frame_that_cannot_be_read_has_its_sentence(tmp_path):
    (tmp_path / "bad.jpg").write_bytes(b"no picture")
    checked = live_check().check(Frame(path=tmp_path / "bad.jpg"))
    assert "not a photograph that can be read" in checked.problem


def test_a_failure_of_our_own_does_not_end_the_watching(tmp_path, monkeypatch):
    def fails(*_, **__):
        raise np.linalg.LinAlgError("Singular matrix")

    monkeypatch.setattr(live_module, "look_at", fails)
    checked = live_check().check(frame(tmp_path, 1, head_picture(0.0)))
    assert checked.problem == ("'f1.jpg' could not be checked (LinAlgError: Singular matrix).")


def test_a_plan_file_is_all_that_a_check_needs(tmp_path):
    plan = Plan(baseline=Setup(), baseline_measures={}, setups=(PLANNED,), conflicts=())
    kept = head_as_dict(build_head(), np.eye(3))
    live = live_for_plan(save_plan(tmp_path / "plan.json", plan, kept))
    assert live.check(frame(tmp_path, 1, head_picture(0.0))).nudge.about == "turn_deg"
    headless = live_for_plan(save_plan(tmp_path / "plan.json", plan))
    report = headless.check(frame(tmp_path, 2, head_picture(0.0))).reports[0]
    assert report.drifts == ()
    assert any("there is no head of this sitter" in words for words in report.unsure)


def test_a_watched_folder_is_checked_and_recorded(tmp_path):
    folder, stop = tmp_path / "card", threading.Event()
    for number in range(2):
        frame(folder, number, head_picture(0.0))
    checks = []
    for checked in watch_and_check(folder, tmp_path / "j.sqlite", live_check(), stop):
        checks.append(checked)
        if len(checks) == 2:
            stop.set()
    assert [c.file for c in checks] == ["f0.jpg", "f1.jpg"]
    journal = Journal(tmp_path / "j.sqlite", folder)
    told = [json.loads(entry.report) for entry in journal.entries()]
    journal.close()
    assert [t["nudge"] for t in told] == [c.nudge.sentence for c in checks]
    assert told[0]["faces"][0]["moves"]["turn_deg"]["wanted"] == 20.0
