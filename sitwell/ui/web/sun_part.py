"""The sun's place and time, where a room is chosen: what the command line's sun options are."""

import asyncio
from collections.abc import Callable
from datetime import datetime

from sitwell.base.errors import SitwellError
from sitwell.base.words import spoken
from sitwell.brief.place_light import Daylight
from sitwell.scene.sun import Place, room_in_sun
from sitwell.scene.sun_day import SunDay, sun_day
from sitwell.scene.sun_typed import parse_place, parse_time
from sitwell.scene.sun_words import NOBODY, NORTH, bearing_words, day_words
from sitwell.sheet.place_light import HOLDS
from sitwell.ui.web import brief
from sitwell.ui.web.frame import Desk
from sitwell.ui.web.parts import box, button, notice, text_field, words
from sitwell.ui.web.wording import degrees, preferences, t

Typed = dict[str, str]


class SunPart:
    """Type a place and a time; plan for the sun as it stands there then, or read its day.

    What is ``typed`` stays on the open page alone; kept are the sun's height and bearing.
    """

    def __init__(self, desk: Desk, refresh: Callable[[], None], typed: Typed) -> None:
        self.desk, self.refresh, self.typed = desk, refresh, typed

    def draw(self) -> None:
        """Two fields, what they are asked for, and what was found last."""
        own = brief.room_of(self.desk.sitting).daylight
        words("h2", t("The sun"), "sub")
        with box("div", "measures-row"):
            self._field("place", t("Degrees north, east"), "51.48,-0.01")
            self._field("time", t("When"), "2026-10-03T15:00")
        words("p", t("South and west are negative. The place is kept nowhere. The time is this "
                     "computer’s; without one it is now."), "hint")  # fmt: skip
        with box("div", "sheets"):
            button(t("Plan for this time"), self._plan)
            button(t("Show the sun’s day"), self._tell)
            if own is not None and own.bearing_deg is not None:
                button(t("Let the plan choose the sun’s height"), self._let_go, "quiet")
        self.told = box("div", role="status")
        with self.told:
            for sentence in found_words(own):
                words("p", sentence)
        words("p", t(NOBODY), "hint")

    def _field(self, name: str, label: str, such_as: str) -> None:
        def typed(text: str) -> None:
            self.typed[name] = text.strip()

        text_field(label, self.typed.get(name, ""), typed, placeholder=such_as)

    def _asked(self) -> tuple[Place, datetime]:
        time = self.typed.get("time", "")
        when = parse_time(time) if time else datetime.now().astimezone()
        return parse_place(self.typed.get("place", "")), when

    async def _plan(self) -> None:
        sitting = self.desk.sitting
        try:
            with spoken(preferences().language):
                place, when = self._asked()
                room = await asyncio.to_thread(room_in_sun, brief.room_of(sitting), place, when)
        except SitwellError as error:
            self._say(str(error))
            return
        brief.keep_room(sitting, room)
        self.desk.changed()
        self.refresh()

    async def _tell(self) -> None:
        try:
            with spoken(preferences().language):
                place, when = self._asked()
                day = await asyncio.to_thread(self._day, place, when)
        except SitwellError as error:
            self._say(str(error))
            return
        self.told.clear()
        with self.told:
            for sentence in (*day_words(day), t(NORTH)):
                words("p", sentence)

    def _day(self, place: Place, when: datetime) -> SunDay:
        """The day, held against the set-up in hand where the sun is its key."""
        sitting = self.desk.sitting
        setup, own = self.desk.server.in_hand(sitting), brief.room_of(sitting).daylight
        lit = setup is not None and own is not None and setup.key_size_mm == own.light.size_mm
        return sun_day(place, when.date(), when.tzinfo, setup if lit else None)

    def _let_go(self) -> None:
        brief.let_sun_go(self.desk.sitting)
        self.desk.changed()
        self.refresh()

    def _say(self, trouble: str) -> None:
        self.told.clear()
        with self.told:
            notice(trouble, "trouble")


def found_words(own: Daylight | None) -> tuple[str, ...]:
    """The sun that is planned for; nothing where its height is still to be chosen."""
    if own is None or own.bearing_deg is None or not own.when:
        return ()
    planned = t(
        "Planned for {when}: the sun {height} up, in the {way}.",
        when=own.when,
        height=degrees(own.light.elevation_deg[0]),
        way=bearing_words(own.bearing_deg),
    )
    if not own.holds:
        return (planned,)
    holds = t(HOLDS, first=own.holds[0], last=own.holds[1])
    return planned, t("{Holds}.", holds=holds)
