"""What the shoot page says of a frame that landed."""

from sitwell.shoot.check import check_frame
from sitwell.shoot.live import Checked
from sitwell.shoot.nudge import Nudge
from sitwell.ui.web.shoot_page import found_words, kind_words
from tests.shoot.planned import EXPECTED, MEASURES, sight


def test_what_there_is_to_fix_is_told_in_whole_sentences():
    focus = {"near_eye": 5.0, "far_eye": 4.0, "ear": 6.0, "background": 1.0}
    shown = sight(focus=focus, measures=MEASURES | {"ear_sliver": 1.0})
    assert found_words(check_frame("f.jpg", shown, EXPECTED)) == (
        "The near eye is softer than in other frames of this burst; the ear is sharper. "
        "The far ear shows as a sliver."
    )


def nudged(about, sentence):
    return Checked(file="f.jpg", nudge=Nudge(about=about, difference=4.0, sentence=sentence))


def test_the_sitter_reads_what_is_asked_of_them_and_nothing_else():
    assert kind_words(nudged("turn_deg", "Turn a touch.")) == "Turn a touch."
    assert kind_words(Checked(file="f.jpg")) == "Lovely. Hold all of this."
    for told in (None, Checked(file="f.jpg", problem="Torn."), nudged("focus", "Refocus."),
                 nudged("distance_mm", "Step back."), nudged("blink", "Eyes closed.")):  # fmt: skip
        assert kind_words(told) == "One moment, please."


def test_the_discreet_shoot_page_shows_kind_words_alone(visit):
    async def shoot(user):
        await user.open("/")
        user.find("Begin a sitting").click()
        await user.should_see("Before anything is measured")
        user.http_client.cookies.set("sitwell_discreet", "1")
        await user.open(user.back_history[-1].replace("/talk", "/shoot"))
        await user.should_see("One moment, please.")
        await user.should_not_see("Where frames land")
        await user.should_not_see("put away")

    visit(shoot)
