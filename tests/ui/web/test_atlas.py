"""Which cells the atlas has, and how it fills in and is taken in hand, in a real browser."""

import pytest

from sitwell.scene.setup import Setup
from sitwell.ui.web import atlas
from sitwell.ui.web.brief import Reach
from tests.ui.web.browsing import NEEDED, SIZES, open_hand

SETUP = Setup(turn_deg=19.0, chin_deg=0.0)
REACHES = {
    "turn_deg": Reach(low=-50.0, high=20.0, step=1.0),
    "chin_deg": Reach(low=-12.0, high=18.0, step=1.0),
}


def test_the_grid_holds_every_step_within_reach_and_no_other():
    rows = atlas.grid(SETUP, REACHES)
    assert [row[0].changes["chin_deg"] for row in rows] == [18.0, 12.0, 6.0, 0.0, -6.0, -12.0]
    turns = [cell.changes["turn_deg"] for cell in rows[0]]
    assert turns == [-50.0, -40.0, -30.0, -20.0, -10.0, 0.0, 10.0, 20.0]


def test_a_reach_between_two_steps_keeps_the_one_that_is_within():
    reaches = {**REACHES, "turn_deg": Reach(low=0.0, high=9.0, step=1.0)}
    assert [c.changes["turn_deg"] for c in atlas.grid(SETUP, reaches)[0]] == [0.0]


def test_the_cell_nearest_to_the_set_up_comes_first():
    cells = [cell for row in atlas.grid(SETUP, REACHES) for cell in row]
    first = min(cells, key=lambda cell: cell.away)
    assert first.changes == {"turn_deg": 20.0, "chin_deg": 0.0}
    assert atlas.nearest(cells, SETUP) is first


def test_a_stop_of_the_plan_has_its_own_turn_and_chin():
    stop = Setup(turn_deg=6.0, chin_deg=-1.0)
    rows = atlas.grid(SETUP, REACHES, [stop])
    at = atlas.nearest([cell for row in rows for cell in row], stop)
    assert at.changes == {"turn_deg": 6.0, "chin_deg": -1.0}
    assert [len(row) for row in rows] == [len(row) for row in atlas.grid(SETUP, REACHES)]


def test_a_strip_of_one_is_left_out():
    assert atlas.strip(SETUP, "distance_mm", Reach(low=1400.0, high=1600.0, step=10.0)) == []
    made = atlas.strip(SETUP, "distance_mm", Reach(low=1400.0, high=2100.0, step=10.0))
    assert [cell.changes["distance_mm"] for cell in made] == [1500.0, 2000.0]


class TestInABrowser:
    """The page itself."""

    pytestmark = NEEDED

    def test_it_fills_in_dims_outlines_and_is_taken_in_hand(self, page, sitting, in_hand):
        open_hand(page, sitting)
        page.click("a:has-text('Look around it')")
        page.wait_for_selector(".atlas-grid .cell")
        full = """() => [...document.querySelectorAll(".cell img")].every((e) => e.src)"""
        page.wait_for_function(full)
        assert page.locator(".atlas-grid .cell.stop").count() >= 1
        dim, bright = page.locator(".cell.dim"), page.locator(".atlas-grid .cell:not(.dim)")
        assert dim.count() >= 1
        assert bright.count() >= 1
        assert dim.first.locator(".cell-said").inner_text() != ""
        page.locator(".atlas-grid .cell:has-text('30° to their left'):has-text('level')").click()
        page.wait_for_selector(".hand .curve-grid")
        assert page.locator(".slider output").first.inner_text() == "30° to their left"
        assert in_hand()["turn_deg"] == 30.0
        page.locator(".console .onward button").last.click()

    @pytest.mark.parametrize("size", SIZES)
    def test_the_page_is_no_wider_than_the_screen(self, page, sitting, size):
        width, height = SIZES[size]
        page.set_viewport_size({"width": width, "height": height})
        page.goto(f"{sitting}/atlas")
        page.wait_for_selector(".atlas-grid .cell img[src]")
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        assert page.locator(".steps a[aria-current]").inner_text() == "Plan"
