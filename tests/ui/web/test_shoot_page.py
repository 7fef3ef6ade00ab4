"""What the shoot page says of a frame that landed."""

from sitwell.shoot.check import check_frame
from sitwell.ui.web.shoot_page import found_words
from tests.shoot.planned import EXPECTED, MEASURES, sight


def test_what_there_is_to_fix_is_told_in_whole_sentences():
    focus = {"near_eye": 5.0, "far_eye": 4.0, "ear": 6.0, "background": 1.0}
    shown = sight(focus=focus, measures=MEASURES | {"ear_sliver": 1.0})
    assert found_words(check_frame("f.jpg", shown, EXPECTED)) == (
        "The near eye is softer than in other frames of this burst; the ear is sharper. "
        "The far ear shows as a sliver."
    )
