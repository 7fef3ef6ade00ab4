"""Kits and rooms are saved by name and carried to the next sitting, with nothing of any sitter."""

import dataclasses
import json

from sitwell.brief.kit import PRESETS as KITS
from sitwell.brief.room import PRESETS as ROOMS
from sitwell.ui.web import brief
from sitwell.ui.web.own_gear import FILE, OwnGear
from sitwell.ui.web.paper import Sitting
from tests.ui.web.acting import fields, fire
from tests.ui.web.test_pages import begin

KIT, ROOM = KITS["small-flash"], ROOMS["living-room"]


def test_what_is_saved_is_there_for_the_next_server(tmp_path):
    gear = OwnGear(tmp_path)
    gear.save_kit("  my   bag ", KIT)
    gear.save_room("at home", ROOM)
    again = OwnGear(tmp_path)
    assert (again.kits, again.rooms) == ({"my bag": KIT}, {"at home": ROOM})
    again.drop(again.kits, "my bag")
    assert OwnGear(tmp_path).kits == {}


def test_a_name_of_spaces_saves_nothing(tmp_path):
    OwnGear(tmp_path).save_kit("   ", KIT)
    assert not (tmp_path / FILE).exists()


def test_a_damaged_file_is_begun_anew(tmp_path):
    for text in ("{", "[]", '{"kits": {"a": 1}, "rooms": {}, "last": {}}'):
        (tmp_path / FILE).write_text(text)
        assert OwnGear(tmp_path).kits == {}


def test_the_next_sitting_begins_with_what_the_last_one_used(tmp_path):
    first = Sitting(id="0" * 12, label="Mara", room="living-room", framing="tight-head")
    brief.keep_kit(first, dataclasses.replace(KITS[first.kit], lenses=KITS[first.kit].lenses[:1]))
    OwnGear(tmp_path).remember(first)
    second = Sitting(id="1" * 12)
    OwnGear(tmp_path).carry(second)
    assert brief.kit_of(second) == brief.kit_of(first)
    assert (second.room, second.framing, second.label) == ("living-room", "tight-head", "")
    assert "Mara" not in (tmp_path / FILE).read_text()


def test_what_another_version_wrote_is_not_carried(tmp_path):
    plain = {"kits": {}, "rooms": {}, "last": {"kit": "no such kit", "room": "studio"}}
    (tmp_path / FILE).write_text(json.dumps(plain))
    sitting = Sitting(id="0" * 12)
    OwnGear(tmp_path).carry(sitting)
    assert sitting == Sitting(id="0" * 12)


def test_on_the_page_a_lens_comes_back_and_a_kit_is_saved_and_carried(visit, papers):
    async def kit(user):
        address = await begin(user)
        await user.open(f"{address}/kit")
        await user.should_not_see("Undo the last change")
        user.find("+ umbrella").click()
        await user.should_see("Undo the last change")
        user.find("Undo the last change").click()
        await user.should_see("+ umbrella")
        user.find("+ umbrella").click()
        await user.should_not_see("+ umbrella")
        name = next(f for f in fields(user, "text") if f.props.get("maxlength") == "40")
        fire(name, "change", "my bag")
        user.find("Save it").click()
        await user.should_see("my bag")
        address = await begin(user)
        await user.open(f"{address}/kit")
        await user.should_not_see("+ umbrella")
        await user.should_see("my bag")

    visit(kit)
    assert list(json.loads((papers / FILE).read_text())["kits"]) == ["my bag"]
