"""The landmarker's guesses reach the sliders of the same name, on the same side."""

import numpy as np
import pytest

from sitwell.head.expression import expected_expression
from sitwell.head.template import load_template


@pytest.mark.parametrize(
    ("guess", "slider"),
    [
        ("mouthSmileLeft", "mouth_smile_own_left"),
        ("eyeBlinkRight", "eye_blink_own_right"),
        ("jawOpen", "jaw_open"),
        ("browInnerUp", "brow_inner_up"),
        ("mouthLeft", "mouth_own_left"),
    ],
)
def test_a_guess_moves_its_own_slider_and_loosens_it(guess, slider):
    names = load_template().expression_names
    mean, sigma = expected_expression({guess: 0.8})
    assert names[int(np.argmax(mean))] == slider
    assert np.count_nonzero(mean) == 1
    assert sigma[names.index(slider)] > 1.5 * np.median(sigma)


def test_the_gaze_is_left_at_rest():
    mean, sigma = expected_expression({"eyeLookUpLeft": 0.9})
    index = load_template().expression_names.index("eye_look_up_own_left")
    assert mean[index] == 0.0
    assert sigma[index] < 1e-3


def test_a_marked_iris_sets_the_gaze_free():
    index = load_template().expression_names.index("eye_look_up_own_left")
    mean, sigma = expected_expression({}, gaze_marked=True)
    assert (mean[index], sigma[index]) == (0.0, 0.3)


def test_a_squint_is_believed_less_than_a_blink():
    names = load_template().expression_names
    mean, _ = expected_expression({"eyeSquintLeft": 0.5, "eyeBlinkLeft": 0.5})
    assert mean[names.index("eye_squint_own_left")] < 0.5 * mean[names.index("eye_blink_own_left")]
