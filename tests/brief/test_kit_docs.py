"""The files shown in docs/kit.md are read as shown, and every preset and limit is named there."""

import textwrap
from pathlib import Path

from sitwell.brief.comfort import LIMITS
from sitwell.brief.kit import PRESETS as KITS
from sitwell.brief.kit import load_kit
from sitwell.brief.room import PRESETS as ROOMS
from sitwell.brief.room import load_room

PAGE = (Path(__file__).resolve().parents[2] / "docs" / "kit.md").read_text(encoding="utf-8")


def shown(start, end):
    return textwrap.dedent("    " + PAGE[PAGE.index(start) : PAGE.index(end)].strip())


def test_the_kit_on_the_page_is_read(tmp_path):
    path = tmp_path / "kit.toml"
    path.write_text(shown('name = "my bag"', "The first camera"), encoding="utf-8")
    kit = load_kit(path)
    assert (len(kit.lenses), len(kit.lights)) == (2, 3)
    assert kit.light_for("rim").name == "strip box"


def test_the_room_on_the_page_is_read(tmp_path):
    path = tmp_path / "room.toml"
    path.write_text(
        shown('name = "front room"', "A window that is seen from one"), encoding="utf-8"
    )
    light = load_room(path).daylight.light
    assert (light.kind(), light.middle_mm) == ("window", 1600.0)


def test_the_sun_on_the_page_is_read(tmp_path):
    path = tmp_path / "meadow.toml"
    path.write_text(shown("[sun]\n", "`[shade]` takes"), encoding="utf-8")
    room = load_room(path)
    assert (room.daylight.light.kind(), room.daylight.bearing_deg) == ("sun", 213.0)
    page = (Path(__file__).resolve().parents[2] / "docs" / "how-to" / "outdoors.md").read_text()
    text = page[page.index('    name = "the meadow"') : page.index("`[shade]` takes")]
    path.write_text(textwrap.dedent(text), encoding="utf-8")
    assert load_room(path).daylight.light.elevation_deg == (25.0, 25.0)


def test_every_preset_and_limit_is_on_the_page():
    for name in (*KITS, *ROOMS, *LIMITS):
        assert f"`{name}`" in PAGE
