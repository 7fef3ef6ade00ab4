"""The command for a day's sun: when it stands where a set-up wants it, and which way to face."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from rich.table import Table

from sitwell.base.errors import UsageError
from sitwell.base.formats import named
from sitwell.base.words import tr
from sitwell.ui import options, say

if TYPE_CHECKING:
    from datetime import tzinfo

    from sitwell.scene.sun_day import SunDay


def sun(
    place: Annotated[
        str, typer.Option(help="Degrees north, degrees east, e.g. 51.48,-0.01; south and west < 0.")
    ],
    day: Annotated[str, typer.Option(help="Year-month-day; today if left.")] = "",
    zone: Annotated[
        str, typer.Option(help="A zone such as Europe/Berlin or +01:00; the machine's if left.")
    ] = "",
    plan: Annotated[
        Path | None, typer.Option(help="The plan.json that sitwell plan wrote: its key is wanted.")
    ] = None,
    setup: options.Named = "",
    camera: Annotated[
        float | None,
        typer.Option(min=0.0, max=360.0, help="The bearing the camera must look, if it must."),
    ] = None,
    json: options.Json = False,
) -> None:
    """Tell when today the sun stands where a set-up wants it, and which way to face. Offline."""
    from sitwell.scene.sun_day import as_dict, sun_day
    from sitwell.scene.sun_typed import parse_day, parse_place, parse_zone
    from sitwell.scene.sun_words import NOBODY
    from sitwell.sheet.plan_file import load_plan
    from sitwell.shoot.choice import choose_setup

    if plan is None and (setup or camera is not None):
        raise UsageError(
            tr("--setup and --camera belong to a plan; give its file with --plan as well.")
        )
    planned = choose_setup(load_plan(plan)[0], setup or None) if plan else None
    where = parse_zone(zone)
    found = sun_day(
        parse_place(place),
        parse_day(day, where),
        where,
        planned.setup if planned else None,
        camera,
    )
    if json:
        held = {"setup": planned.name if planned else None}
        say.json_text(named("sun", held | as_dict(found) | {"care": tr(NOBODY)}))
    else:
        _show(found, _now_words(found, where) if camera is None else ())


def _now_words(day: "SunDay", zone: "tzinfo | None") -> tuple[str, ...]:
    """How to stand right now, for a set-up and today; the care sentence comes at the end."""
    from datetime import datetime

    from sitwell.scene.sun import sun_at
    from sitwell.scene.sun_words import now_words

    now = datetime.now(zone).astimezone(zone)
    if day.setup is None or now.date() != day.day:
        return ()
    standing, *_ = now_words(day.setup, sun_at(day.place, now))
    return (standing,)


def _show(day: "SunDay", now: tuple[str, ...]) -> None:
    from sitwell.scene import sun_words as words

    say.line(words.title_words(day))
    for sentence in (*words.day_words(day), *now):
        say.line(sentence)
    if day.hours:
        say.line("")
        say.console.print(_table(day))
        say.line("")
        say.line(tr(words.NORTH))
    say.line(tr(words.NOBODY))


def _table(day: "SunDay") -> Table:
    from sitwell.scene import sun_words as words

    table = Table(box=None, header_style="bold", pad_edge=False)
    headings = words.HEADINGS if day.setup is not None else words.HEADINGS[:3]
    for heading in headings:
        table.add_column(tr(heading), justify="right", no_wrap=True)
    table.add_column("")
    for hour in day.hours:
        stand = (hour.camera_bearing_deg, hour.nose_bearing_deg)
        ways = [words.bearing_words(way) for way in stand if way is not None]
        table.add_row(
            f"{hour.sun.when:%H:%M}",
            f"{hour.sun.elevation_deg:.0f}°",
            words.bearing_words(hour.sun.bearing_deg),
            *ways,
            words.remark(hour),
        )
    return table
