"""The frames that Read asks for: those that would show what of a plan can only be drawn so far."""

from types import SimpleNamespace

import pytest
from nicegui import ui

from sitwell.head.surface import build_head
from sitwell.scene.setup import Setup
from sitwell.ui.web.parts import words
from sitwell.ui.web.planning import Model
from sitwell.ui.web.read_page import _ask_for_views
from tests.likeness.test_portrayal import StandIn

SETUPS = (Setup(turn_deg=5.0), Setup(turn_deg=24.0), Setup(turn_deg=24.0, f_number=8.0))
WANTED = "A frame turned about 24° to the sitter\u2019s own left would show it."


class Near(StandIn):
    """A likeness from one frame straight on."""

    def reach(self, setup):
        self.off_deg = abs(setup.turn_deg)
        return super().reach(setup)


@pytest.fixture(scope="module")
def model():
    return Model(build_head(), glasses=False)


def test_nothing_is_asked_for_before_there_is_a_likeness(model):
    assert model.frames_to_take(SETUPS) == ()


def test_each_frame_that_would_show_more_is_asked_for_once(model):
    likeness = Near()
    model.take_likeness(likeness)
    assert model.frames_to_take(SETUPS[:1]) == ()
    assert model.frames_to_take(SETUPS) == (WANTED,)
    assert not likeness.told  # to know what is believed takes no picture


def test_read_tells_them_and_is_silent_without_a_plan(visit, model):
    model.take_likeness(Near())
    plan = SimpleNamespace(setups=[SimpleNamespace(setup=setup) for setup in SETUPS])

    async def read(user):
        @ui.page("/asked/{planned}")
        async def asked(planned: str):
            found = plan if planned == "yes" else None
            server = SimpleNamespace(plan=lambda _: found, model=lambda _: model)
            with ui.element("ul") as listed:
                await _ask_for_views(SimpleNamespace(server=server, sitting=None), listed)
            words("p", f"{len(listed.default_slot.children)} asked for")

        await user.open("/asked/yes")
        await user.should_see("1 asked for")
        await user.should_see(f"A view of the plan can only be drawn so far. {WANTED}")
        model.take_likeness(Near(hard_lit=True))
        await user.open("/asked/yes")
        await user.should_see("2 asked for")
        await user.should_see("The light in your frame is hard")
        await user.open("/asked/no")
        await user.should_see("0 asked for")

    visit(read)
