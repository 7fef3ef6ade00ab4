"""Which picture a sitter gets, and what is said with it."""

import numpy as np
import pytest

from sitwell.base.words import retold, spoken
from sitwell.head.surface import build_head
from sitwell.likeness.likened import Likened, Reach
from sitwell.likeness.portrayal import Portrayal
from sitwell.scene.setup import Setup


class StandIn:
    """A likeness that says of itself what a test wants."""

    def __init__(self, *, off_deg=0.0, made_up=0.0, hard_lit=False):
        self.off_deg, self.made_up, self.hard_lit, self.told = off_deg, made_up, hard_lit, []

    def picture(self, setup, width_px, height_px, *, tell_made_up=False):
        self.told.append(tell_made_up)
        return Likened(
            pixels=np.full((height_px, width_px, 3), 90, dtype=np.uint8),
            made_up_share=self.made_up,
        )

    def reach(self, setup):
        return Reach(
            nearest=0,
            from_frame_deg=self.off_deg,
            believable=self.off_deg < 12.0,
            hard_lit=self.hard_lit,
        )


@pytest.fixture(scope="module")
def head():
    return build_head()


def test_without_frames_a_sitter_is_drawn_and_it_is_said_whose_the_hair_is_not(head):
    made = Portrayal(head).portrait(Setup(), 100)
    assert made.is_drawn
    assert made.caption == "Drawn from the head as measured; the hair is nobody’s."
    assert made.pixels().shape == (100, 80, 3)


def test_near_a_frame_the_likeness_is_shown_and_says_what_it_is(head):
    portrayal = Portrayal(head, StandIn(made_up=0.123))
    made = portrayal.portrait(Setup(), 100, tell_made_up=True)
    assert not made.is_drawn
    assert made.caption == (
        "Made from your frames; it is no photograph. What no frame has shown is made up: 12 %."
    )
    assert portrayal.likeness.told == [True]
    whole = Portrayal(head, StandIn()).portrait(Setup(), 100)
    assert whole.caption == "Made from your frames; it is no photograph."


def test_a_hard_lit_frame_is_told_with_the_picture_that_it_gives(head):
    hard = Portrayal(head, StandIn(hard_lit=True)).portrait(Setup(), 100)
    assert hard.caption == (
        "Made from your frames; it is no photograph. The light in your frame is hard; one in flat "
        "light would show the plan’s better."
    )
    with spoken("de"):
        assert "ist hart" in retold(hard.caption)
        assert "frame" not in retold(hard.caption)
    drawn = Portrayal(head, StandIn(hard_lit=True, off_deg=18.0))
    assert "hard" not in drawn.portrait(Setup(), 100).caption
    assert not drawn.is_hard_lit([Setup()])


@pytest.mark.parametrize(("turn_deg", "side"), [(24.0, "left"), (-24.0, "right")])
def test_past_belief_it_is_drawn_and_the_frame_that_would_show_it_is_asked_for(
    head, turn_deg, side
):
    likeness = StandIn(off_deg=18.0)
    made = Portrayal(head, likeness).portrait(Setup(turn_deg=turn_deg), 100)
    assert made.is_drawn
    assert not likeness.told  # no picture is made only to be thrown away
    assert made.caption == (
        "Drawn, since this view is 18° from your nearest frame, too far for a picture made from "
        f"it. A frame turned about 24° to the sitter’s own {side} would show it."
    )


def test_a_drawing_can_be_asked_for(head):
    likeness = StandIn()
    assert Portrayal(head, likeness).portrait(Setup(), 100, drawn=True).is_drawn
    assert not likeness.told
