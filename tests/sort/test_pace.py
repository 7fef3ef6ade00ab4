import pytest

from sitwell.sort.pace import Pace, left_words


def test_the_time_left_goes_by_what_was_done_in_this_run():
    now = [0.0]
    pace = Pace(lambda: now[0])
    assert pace.left_s(400, 1000) is None  # 400 were there from an earlier run
    now[0] = 4.0
    assert pace.left_s(404, 1000) is None  # too early to tell
    now[0] = 100.0
    assert pace.left_s(500, 1000) == pytest.approx(500.0)
    now[0] = 600.0
    assert pace.left_s(1000, 1000) == 0.0


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (None, ""),
        (0.0, ", about 10 seconds left"),
        (44.0, ", about 40 seconds left"),
        (200.0, ", about 3 minutes left"),
        (9000.0, ", about 2.5 hours left"),
    ],
)
def test_the_time_left_is_said_as_one_says_it(seconds, words):
    assert left_words(seconds) == words
