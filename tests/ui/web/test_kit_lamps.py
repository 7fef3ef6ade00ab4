from sitwell.brief.kit import BACKGROUND_FLASH, SOFTBOX, STRIP
from sitwell.ui.web import brief
from sitwell.ui.web.kit_page import light_words
from sitwell.ui.web.paper import Sitting


def sitting(**papers):
    return Sitting(id="0" * 12, created="2026-01-01T00:00:00+00:00", **papers)


def test_a_rim_light_is_asked_for_only_where_the_kit_has_one():
    assert brief.lamps_of(sitting(kit="three-flashes")) == {}
    assert brief.lamps_of(sitting(kit="three-flashes", rim_light=True)) == {"rim": "on"}
    assert brief.lamps_of(sitting(kit="small-flash", rim_light=True)) == {}


def test_a_kit_with_lamps_comes_back_from_the_papers_as_it_was():
    papers = sitting(kit="three-flashes")
    kit = brief.kit_of(papers)
    brief.keep_kit(papers, kit)
    assert papers.own_kit == {}
    fewer = type(kit)(name=kit.name, cameras=kit.cameras, lenses=kit.lenses, lights=kit.lights[:2])
    brief.keep_kit(papers, fewer)
    assert brief.kit_of(papers) == fewer


def test_a_lamp_is_named_with_what_it_is_for():
    assert light_words(STRIP) == "strip box, 20 cm × 60 cm, as the rim light"
    assert light_words(BACKGROUND_FLASH).endswith(", for the background")
    assert light_words(SOFTBOX) == "softbox, 90 cm across"
