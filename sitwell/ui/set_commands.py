"""Commands of the set and after it: watch, sort, serve."""

import json as json_library
import signal
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sitwell.base.errors import SortError, UsageError
from sitwell.base.words import tr
from sitwell.ui import options, say

if TYPE_CHECKING:
    from sitwell.shoot.live import Checked
    from sitwell.sort.sorting import Sorting
    from sitwell.ui.records_door import Door

Plan = Annotated[Path | None, typer.Option(help="The plan.json that sitwell plan wrote.")]
Label = Annotated[
    str,
    typer.Option("--sitter", help="Keep the readings with this sitter's records, and forgettable."),
]


def watch(
    folder: Annotated[Path, typer.Argument(help="The folder that your camera's frames land in.")],
    plan: Annotated[Path, typer.Option(help="The plan.json that sitwell plan wrote.")],
    setup: options.Named = "",
    sitter: Label = "",
    sound: Annotated[
        bool, typer.Option("--sound", help="Ring the terminal's bell when there is a new nudge.")
    ] = False,
    json: options.Json = False,
) -> None:
    """Check each frame as it lands against the plan: one nudge at a time. Ctrl-C ends it."""
    from sitwell.shoot.journal import journal_path
    from sitwell.shoot.live import live_for_plan, watch_and_check
    from sitwell.ui import show
    from sitwell.ui.record_commands import door

    live = live_for_plan(plan, setup or None)
    with door().frames_folder(sitter) as state:
        if not json:
            say.line(tr("Watching {folder}; Ctrl-C ends it.", folder=folder))
        ringer = _Ringer(on=sound)
        stop = _stop_on_interrupt()
        for checked in watch_and_check(folder, journal_path(state, folder), live, stop):
            ringer.hear(checked)
            if json:
                print(json_library.dumps(checked.as_dict(), allow_nan=False), flush=True)
            else:
                show.checked(checked)
    say.note(tr("Stopped watching; the frames stay where they are."))
    _say_term(sitter)


def _stop_on_interrupt() -> threading.Event:
    """An event that Ctrl-C sets.

    An exception would be raised wherever the work happens to be, and compiled code swallows it.
    """
    stop = threading.Event()
    signal.signal(signal.SIGINT, lambda *_: stop.set())
    return stop


def sort(
    folder: Annotated[Path, typer.Argument(help="The folder of the sitting's frames.")],
    plan: Plan = None,
    setup: options.Named = "",
    sitter: Label = "",
    workers: Annotated[
        int | None, typer.Option(min=1, help="Processes; all cores if left.")
    ] = None,
    scheduler: Annotated[
        str | None,
        typer.Option(help="A Dask scheduler's address: its workers read, e.g. tcp://host:8786."),
    ] = None,
    out: Annotated[
        Path | None, typer.Option(help="Folder for the order as JSON and CSV, and a proof sheet.")
    ] = None,
    rate: Annotated[
        bool, typer.Option("--rate", help="Write ratings into XMP sidecars beside the frames.")
    ] = False,
    regions: Annotated[
        bool, typer.Option("--regions", help="With --rate, also where the faces are, no names.")
    ] = False,
    keyword: Annotated[
        list[str] | None, typer.Option(help="A keyword for the sidecars; may be repeated.")
    ] = None,
    choose: Annotated[
        list[str] | None, typer.Option(help="Frames you put forward yourself; yours always wins.")
    ] = None,
    drop: Annotated[
        list[str] | None, typer.Option(help="Frames you don't want put forward.")
    ] = None,
    json: options.Json = False,
) -> None:
    """Put the best frame of each burst forward, with the reason. Nothing is moved or deleted."""
    from sitwell.sort.pace import Pace, left_words
    from sitwell.sort.sorting import sorting_for
    from sitwell.ui import show
    from sitwell.ui.record_commands import door

    records = door()
    with records.frames_folder(sitter) as state:
        sorting = sorting_for(folder, state, plan, setup or None)
        try:
            with say.progress(quiet=json) as progress:
                pace = Pace()

                def tell(done: int, of: int) -> None:
                    left = left_words(pace.left_s(done, of))
                    doing = tr("{done} of {count} frames{left}", done=done, count=of, left=left)
                    progress(done / max(of, 1), doing)

                count = sorting.read(workers, tell, scheduler)
            if count == 0:
                say.note(tr("There are no photographs in '{folder}'.", folder=folder))
            _choose(sorting, choose or [], 1.0)
            _choose(sorting, drop or [], -1.0)
            written = [] if out is None else _lists(sorting, out, records, sitter)
            alone: list[str] = []
            if rate:
                rated, alone = _rate(sorting, tuple(keyword or ()), regions=regions)
                written += rated
            show.sorted_frames(sorting, written, alone, as_json=json)
        finally:
            sorting.index.close()
    _say_term(sitter)


def serve(
    host: Annotated[
        str,
        typer.Option(help="The address to listen on; this machine's, or with --lan every one."),
    ] = "",
    port: Annotated[int, typer.Option(min=1, max=65535)] = 8321,
    lan: Annotated[
        bool, typer.Option("--lan", help="Let other devices here in, by a one-time code.")
    ] = False,
    certificate: Annotated[
        bool,
        typer.Option(
            "--certificate",
            help="With --lan, encrypt what goes through the network, by a certificate made here; a "
            "phone gives its camera only so.",
        ),
    ] = False,
    show: Annotated[bool, typer.Option(help="Open the browser.")] = True,
) -> None:
    """Open the pages beside the set, on this machine only unless --lan."""
    from sitwell.ui.web.listening import open_encrypted, open_socket

    if certificate and not lan:
        raise UsageError(tr("--certificate is for other devices; add --lan, or leave it out."))
    encrypted = open_encrypted(host, port) if certificate else None
    listener = open_socket("" if certificate else host, port, lan=lan and not certificate)
    from sitwell.ui.web.app import serve as open_pages  # takes seconds; a refusal need not

    open_pages(listener, show=show, encrypted=encrypted)


def _say_term(sitter: str) -> None:
    """Say what becomes of readings that rest on nobody's yes."""
    from sitwell.store.unrecorded import READINGS_TERM_DAYS

    if not sitter:
        say.note(
            tr(
                "Without --sitter the readings of these frames are erased after {count} days, or "
                "now with: sitwell forget --frames.",
                count=READINGS_TERM_DAYS,
            )
        )


class _Ringer:
    """Rings the terminal's bell when the words to say have changed, and not at every frame."""

    def __init__(self, *, on: bool) -> None:
        self._on, self._last = on, ""

    def hear(self, checked: "Checked") -> None:
        """Ring where this frame brings a nudge that was not said last."""
        sentence = checked.nudge.sentence if checked.nudge else ""
        if self._on and sentence and sentence != self._last:
            sys.stderr.write("\a")
            sys.stderr.flush()
        self._last = sentence


def _choose(sorting: "Sorting", names: list[str], wanted: float) -> None:
    """Remember a person's own choice of frames; it wins over ours from now on."""
    for name in names:
        if not (sorting.folder / name).is_file():
            raise SortError(
                tr(
                    "There is no frame '{name}' in '{folder}'; check its name.",
                    name=name,
                    folder=sorting.folder,
                )
            )
        sorting.index.choose(name, wanted)


def _rate(
    sorting: "Sorting", keywords: tuple[str, ...], *, regions: bool
) -> tuple[list[str], list[str]]:
    """The sidecars that were written, and those left alone, each with the reason."""
    from sitwell.sort import handover

    told: list[str] = []
    alone: list[str] = []
    for written in handover.rate(sorting, keywords, regions=regions):
        if written.changed:
            told.append(str(written.path))
        if written.why:
            alone.append(f"{written.path}: {written.why}")
    return told, alone


def _lists(sorting: "Sorting", out: Path, records: "Door", sitter: str) -> list[str]:
    """The lists, each noted as soon as it is written, so that forgetting finds it."""
    from sitwell.store.files import SORTED
    from sitwell.ui.plan_records import note_files

    written = []
    for path in _write_lists(sorting, out):
        note_files(records, [path], sitter, SORTED)
        written.append(str(path))
    return written


def _write_lists(sorting: "Sorting", out: Path) -> Iterator[Path]:
    """The order as JSON and CSV, and the proof sheet where anything was put forward."""
    from sitwell.sort import handover
    from sitwell.sort.proof import write_proof

    title = sorting.folder.resolve().name
    try:
        yield handover.write_json(out / "order.json", sorting)
        yield handover.write_csv(out / "order.csv", sorting)
        if any(burst.best for burst in sorting.bursts()):
            proof = out / "proof.pdf"
            yield write_proof(proof, sorting.folder, sorting.bursts(), title, with_notes=True)
        else:
            say.note(tr("Nothing was put forward, so there is no proof sheet."))
    except OSError as error:
        raise SortError(
            tr(
                "The lists can't be written to '{out}' ({why}); give another folder.",
                out=out,
                why=error.strerror,
            )
        ) from error
