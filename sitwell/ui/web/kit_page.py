"""Kit and room: what there is to choose from, drawn as it would stand."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from nicegui import ui

from sitwell.base.errors import SitwellError
from sitwell.base.units import MM_PER_FOOT
from sitwell.brief.kit import (
    APS_C,
    BACKGROUND_FLASH,
    BARE_FLASH,
    FOUR_THIRDS,
    FULL_FRAME,
    SOFTBOX,
    STRIP,
    UMBRELLA,
    WINDOW_CAMERA_LEFT,
    Kit,
    Lens,
    LightSource,
)
from sitwell.brief.kit import PRESETS as KITS
from sitwell.brief.room import PRESETS as ROOMS
from sitwell.brief.room import Room
from sitwell.scene.setup import ASPECTS, FRAMINGS
from sitwell.ui.web import brief
from sitwell.ui.web.drawings import FloorDrawing
from sitwell.ui.web.floor import from_above
from sitwell.ui.web.frame import Desk
from sitwell.ui.web.gear_part import saved_part
from sitwell.ui.web.parts import box, button, check, choices, group, notice, pick, text_field, words
from sitwell.ui.web.sun_part import SunPart, Typed
from sitwell.ui.web.wording import length, mark, number, preferences, t

KIT_NAMES = {
    "full-frame-primes": mark("full frame, three primes, softbox"),
    "full-frame-zooms": mark("full frame, two zooms, umbrella"),
    "three-flashes": mark("full frame, two primes, three flashes"),
    "aps-c-kit-zoom-window": mark("APS-C, one zoom, a window"),
    "four-thirds-primes": mark("four thirds, two primes, softbox"),
    "one-35-mm-window": mark("full frame, one 35 mm, a window"),
    "small-flash": mark("full frame, two primes, small flash"),
}
ROOM_NAMES = {
    "studio": mark("a studio"),
    "living-room": mark("a living room"),
    "small-room": mark("a small room"),
    "by-a-window": mark("by a window"),
    "outdoors": mark("outdoors, in the sun"),
    "open-shade": mark("outdoors, in open shade"),
}
CAMERA_NAMES = {
    FULL_FRAME.name: mark("full frame"),
    APS_C.name: mark("APS-C"),
    FOUR_THIRDS.name: mark("four thirds"),
}
FRAMING_NAMES = {
    "tight-head": mark("tight head"),
    "head-and-shoulders": mark("head and shoulders"),
    "half-length": mark("half length"),
    "three-quarter-length": mark("three-quarter length"),
    "full-length": mark("full length"),
}
CAMERAS = {camera.name: camera for camera in (FULL_FRAME, APS_C, FOUR_THIRDS)}
LIGHTS = {
    light.name: light
    for light in (SOFTBOX, UMBRELLA, BARE_FLASH, WINDOW_CAMERA_LEFT, STRIP, BACKGROUND_FLASH)
}
LIGHT_NAMES = {
    SOFTBOX.name: mark("softbox"),
    UMBRELLA.name: mark("umbrella"),
    BARE_FLASH.name: mark("small flash"),
    WINDOW_CAMERA_LEFT.name: mark("window at camera left"),
    STRIP.name: mark("strip box"),
    BACKGROUND_FLASH.name: mark("small flash with a dome"),
}
# A long light's own sides; its size counts as the disc of equal area.
SIDES_MM = {STRIP.name: (200.0, 600.0)}
USES = {"rim": mark("as the rim light"), "background": mark("for the background")}
ROOM_LENGTHS = {
    "depth_mm": mark("From the sitter back to the farthest camera"),
    "width_mm": mark("Width"),
    "ceiling_mm": mark("Ceiling"),
    "background_distance_mm": mark("From the sitter to the background"),
}
WALLS = ("width_mm", "ceiling_mm")  # which there are not outdoors
# A new lens is typed by its focal length; this is what most primes manage (common practice).
NEW_LENS = Lens(name="", focal_mm=(85.0, 85.0), widest_f=(2.0, 2.0), closest_focus_mm=850.0)


def content(desk: Desk) -> None:
    """The bag at one side, the room as a plan at the other."""
    words("p", t("Only what is really there: the plan chooses from nothing else."), "lead")

    typed: Typed = {}
    before: list[dict[str, Any]] = []  # kits as they were, for Undo

    @ui.refreshable
    def both() -> None:
        with box("div", "two"):
            with box("div"):
                _picture(desk, both.refresh)
                _kit(desk, both.refresh, before)
            with box("div", "drawing-side"):
                _room(desk, both.refresh, typed)

    both()


def _picture(desk: Desk, refresh: Callable[[], Any]) -> None:
    def framing(value: str) -> None:
        desk.sitting.framing = value
        _used(desk)

    def aspect(value: str) -> None:
        desk.sitting.aspect = value
        _used(desk)

    with group(t("The picture")):
        names = {key: t(FRAMING_NAMES[key]) for key in FRAMINGS}
        pick(t("Framing"), names, desk.sitting.framing, framing)
        shapes = {aspect: aspect.replace(":", " : ") for aspect in ASPECTS}
        choices(t("Format, width to height"), shapes, desk.sitting.aspect, aspect)


def _kit(desk: Desk, refresh: Callable[[], Any], before: list[dict[str, Any]]) -> None:
    def begin(name: str) -> None:
        desk.sitting.kit, desk.sitting.own_kit = name, {}
        _used(desk)
        refresh()

    def keep(kit: Kit) -> None:
        before.append(dict(desk.sitting.own_kit))
        brief.keep_kit(desk.sitting, kit)
        _used(desk)
        refresh()

    def back() -> None:
        desk.sitting.own_kit = before.pop()
        _used(desk)
        refresh()

    def use_rim(yes: bool) -> None:
        desk.sitting.rim_light = yes
        _used(desk)

    kit, gear = brief.kit_of(desk.sitting), desk.server.gear
    with group(t("In the bag")):
        names = {name: t(KIT_NAMES.get(name, name)) for name in KITS}
        pick(t("Begin from"), names, desk.sitting.kit, begin)
        _camera(kit, keep)
        _lenses(kit, keep)
        _lights(kit, keep, desk.sitting.rim_light, use_rim)
        if before:
            button(t("Undo the last change"), back, "quiet")
        saved_part(gear, gear.kits, lambda name: gear.save_kit(name, kit), keep, refresh)


def _used(desk: Desk) -> None:
    """Keep what is used now, here and for the next sitting."""
    desk.server.gear.remember(desk.sitting)
    desk.changed()


def _camera(kit: Kit, keep: Callable[[Kit], None]) -> None:
    names = {name: t(text) for name, text in CAMERA_NAMES.items()}
    names |= {c.name: c.name for c in kit.cameras if c.name not in CAMERAS}
    known = CAMERAS | {camera.name: camera for camera in kit.cameras}
    choices(
        t("Sensor"),
        names,
        kit.cameras[0].name,
        lambda name: keep(replace(kit, cameras=(known[name],))),
    )


def _lenses(kit: Kit, keep: Callable[[Kit], None]) -> None:
    words("h2", t("Lenses"), "sub")
    with box("ul", "things"):
        for lens in kit.lenses:
            rest = tuple(other for other in kit.lenses if other is not lens)
            _thing(lens_words(lens), (lambda left: lambda: keep(replace(kit, lenses=left)))(rest)
                   if rest else None)  # fmt: skip
    typed = {"focal": "", "widest": ""}
    with box("div", "adding"):
        text_field(t("Focal length, mm"), "", lambda v: typed.update(focal=v), inputmode="decimal",
                   placeholder="85")  # fmt: skip
        text_field(t("Widest aperture, f/"), "", lambda v: typed.update(widest=v),
                   inputmode="decimal", placeholder="1.8")  # fmt: skip

        def add() -> None:
            lens = typed_lens(typed["focal"], typed["widest"])
            if lens is None:
                trouble.set_text(t("Type a focal length such as 85 or 24-70, and an aperture."))
                trouble.set_visibility(True)
            else:
                keep(replace(kit, lenses=(*kit.lenses, lens)))

        button(t("Add the lens"), add)
        trouble = notice("", "trouble")
        trouble.set_visibility(False)


def _lights(
    kit: Kit, keep: Callable[[Kit], None], rim_light: bool, on_rim: Callable[[bool], None]
) -> None:
    words("h2", t("Lights"), "sub")
    with box("ul", "things"):
        for light in kit.lights:
            rest = tuple(other for other in kit.lights if other is not light)
            _thing(light_words(light), (lambda left: lambda: keep(replace(kit, lights=left)))(rest))
    with box("div", "features"):
        for light in LIGHTS.values():
            if light not in kit.lights:
                add = (lambda new: lambda: keep(replace(kit, lights=(*kit.lights, new))))(light)
                button(f"+ {_lamp(light)}", add, "feature")
    if not any("key" in light.serves for light in kit.lights):
        notice(t("No light here can be the key: only a room with its own light serves."))
    if kit.light_for("rim") is not None:
        check(t("Use the rim light, behind the sitter"), rim_light, on_rim)


def _thing(text: str, take_out: Callable[[], Any] | None) -> None:
    with box("li"):
        words("span", text)
        if take_out is not None:
            button(t("take out"), take_out, "small").props["aria-label"] = t(
                "Take out: {thing}", thing=text
            )


def _room(desk: Desk, refresh: Callable[[], Any], typed: Typed) -> None:
    room = brief.room_of(desk.sitting)

    def begin(name: str) -> None:
        desk.sitting.room, desk.sitting.own_room = name, {}
        _used(desk)
        refresh()

    def take(room: Room) -> None:
        brief.keep_room(desk.sitting, room)
        _used(desk)
        refresh()

    def keep(**changes: Any) -> None:
        take(replace(room, **changes))

    with group(t("The room")):
        names = {name: t(ROOM_NAMES.get(name, name)) for name in ROOMS}
        pick(t("Begin from"), names, desk.sitting.room, begin)
        with box("div", "measures-row"):
            for name, text in ROOM_LENGTHS.items():
                if not (room.outdoors and name in WALLS):
                    _room_length(room, name, t(text), keep)
        if room.daylight is not None and room.daylight.light.kind() == "sun":
            SunPart(desk, refresh, typed).draw()
        try:
            usual = brief.usual_setup(desk.sitting)
            FloorDrawing(from_above(usual, room, whole=not room.outdoors))
        except SitwellError as error:
            notice(str(error), "trouble")
        gear = desk.server.gear
        saved_part(gear, gear.rooms, lambda name: gear.save_room(name, room), take, refresh)


def _room_length(room: Room, name: str, label: str, keep: Callable[..., None]) -> None:
    feet = preferences().units == "imperial"
    per_unit = MM_PER_FOOT if feet else 1000.0

    def typed(text: str) -> None:
        value = as_number(text)
        if value is not None and 0.2 <= value * per_unit / 1000.0 <= 50:
            keep(**{name: value * per_unit})

    unit = t("feet") if feet else "m"
    value = number(getattr(room, name) / per_unit, 2)
    text_field(f"{label}, {unit}", value, typed, inputmode="decimal")


def typed_lens(focal: str, widest: str) -> Lens | None:
    """A lens out of what was typed, such as 85 and 1.8 or 24-70 and 2.8; None if it makes none."""
    ends = [as_number(part) for part in focal.replace("–", "-").split("-")]
    aperture = as_number(widest.lower().replace("f/", ""))
    if aperture is None or not 0.5 <= aperture <= 64 or len(ends) > 2:
        return None
    low, high = ends[0], ends[-1]
    if low is None or high is None or not 1 <= low <= high <= 3000:
        return None
    name = f"{low:g} mm" if low == high else f"{low:g}-{high:g} mm"
    return replace(NEW_LENS, name=name, focal_mm=(low, high), widest_f=(aperture, aperture))


def as_number(text: str) -> float | None:
    """A typed number with a point or a comma; None if it is none."""
    try:
        return float(text.strip().replace(",", "."))
    except ValueError:
        return None


def lens_words(lens: Lens) -> str:
    """A lens in words: 85 mm, f/1.8, from 80 cm."""
    ends = sorted(set(lens.focal_mm))
    focal = "–".join(number(end, 0) for end in ends)
    wide = "–".join(number(f) for f in sorted(set(lens.widest_f)))
    near = length(lens.closest_focus_mm)
    return t("{focal} mm, f/{wide}, from {near}", focal=focal, wide=wide, near=near)


def light_words(light: LightSource) -> str:
    """A light in words: its name, its size, and whether it can be moved."""
    if light.is_fixed():
        return t("{name}, stays where it is", name=_light_name(light))
    uses = [t(USES[use]) for use in light.serves if use in USES]
    return ", ".join((_lamp(light), *uses))


def _light_name(light: LightSource) -> str:
    return t(LIGHT_NAMES.get(light.name, light.name))


def _lamp(light: LightSource) -> str:
    if light.is_fixed():
        return _light_name(light)
    if light.name in SIDES_MM:
        wide, high = map(length, SIDES_MM[light.name])
        return t("{name}, {wide} × {high}", name=_light_name(light), wide=wide, high=high)
    return t("{name}, {size} across", name=_light_name(light), size=length(light.size_mm))
