"""Kits and rooms that the photographer saved by name, and those last used; nothing of any sitter.

One JSON file in the folder of the papers: a new sitting begins with what the last one had.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sitwell.base.codec import from_plain, to_plain
from sitwell.base.files import write_atomically
from sitwell.base.formats import named
from sitwell.brief.kit import PRESETS as KITS
from sitwell.brief.kit import Kit
from sitwell.brief.room import PRESETS as ROOMS
from sitwell.brief.room import Room
from sitwell.ui.web import brief
from sitwell.ui.web.paper import Sitting

FILE = "gear.json"
CARRIED = ("kit", "own_kit", "room", "own_room", "rim_light", "framing", "aspect")
MOST_LETTERS = 40


@dataclass(slots=True)
class OwnGear:
    """What was saved, by name, and what the last sitting used; a damaged file is begun anew."""

    folder: Path
    kits: dict[str, Kit] = field(default_factory=dict)
    rooms: dict[str, Room] = field(default_factory=dict)
    last: dict[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Read the file, where there is one."""
        try:
            plain = json.loads((self.folder / FILE).read_text(encoding="utf-8"))
            self.kits = {name: from_plain(kit, Kit) for name, kit in plain["kits"].items()}
            self.rooms = {name: from_plain(room, Room) for name, room in plain["rooms"].items()}
            self.last = {name: plain["last"][name] for name in CARRIED if name in plain["last"]}
        except (OSError, ValueError, KeyError, TypeError, AttributeError):
            self.kits, self.rooms, self.last = {}, {}, {}

    def save_kit(self, name: str, kit: Kit) -> None:
        """Keep a kit under a name; one of that name is replaced."""
        if name := _usable(name):
            self.kits[name] = kit
            self._write()

    def save_room(self, name: str, room: Room) -> None:
        """Keep a room under a name; one of that name is replaced."""
        if name := _usable(name):
            self.rooms[name] = room
            self._write()

    def drop(self, kept: dict[str, Any], name: str) -> None:
        """Take a saved kit or room out."""
        kept.pop(name, None)
        self._write()

    def remember(self, sitting: Sitting) -> None:
        """Note what a sitting uses, for the next one."""
        self.last = {name: getattr(sitting, name) for name in CARRIED}
        self._write()

    def carry(self, sitting: Sitting) -> None:
        """Let a new sitting begin with what the last one used, as far as it can be read."""
        known = self.last.get("kit") in KITS and self.last.get("room") in ROOMS
        if not known:
            return
        for name, value in self.last.items():
            if isinstance(value, type(getattr(sitting, name))):
                setattr(sitting, name, value)
        try:
            brief.kit_of(sitting), brief.room_of(sitting)
        except ValueError:
            sitting.own_kit, sitting.own_room = {}, {}

    def _write(self) -> None:
        content: Mapping[str, Any] = {
            "kits": {name: to_plain(kit) for name, kit in self.kits.items()},
            "rooms": {name: to_plain(room) for name, room in self.rooms.items()},
            "last": self.last,
        }
        text = json.dumps(named("gear", content), ensure_ascii=False, indent=1)
        write_atomically(self.folder / FILE, text)


def _usable(name: str) -> str:
    return " ".join(name.split())[:MOST_LETTERS]
