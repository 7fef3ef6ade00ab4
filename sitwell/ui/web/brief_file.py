"""A sitting's brief as a file: saved from the pages, and opened there as a new sitting.

A brief that is opened brings everything but frames: those come to the table once their sitter has
said yes. Its kit and room are presets or stand in it whole, so that no file of this machine is
opened because somebody sent a name.
"""

import asyncio
import tempfile
from pathlib import Path

from fastapi import FastAPI, Request
from fastapi.responses import JSONResponse, Response

from sitwell import flow
from sitwell.base.errors import SitwellError, WebError
from sitwell.base.words import tr
from sitwell.brief.in_the_way import NOTHING, THINGS
from sitwell.brief.kit import PRESETS as KITS
from sitwell.brief.request import SUFFIXES, Brief, brief_text, is_brief_file, open_brief
from sitwell.brief.room import PRESETS as ROOMS
from sitwell.scene.id_photo import aspect_of
from sitwell.ui.web.brief import keep_kit, keep_room
from sitwell.ui.web.paper import SitterNote, Sitting
from sitwell.ui.web.server_state import ServerState
from sitwell.ui.web.uploads import body_of
from sitwell.ui.web.views import PRIVATE, refused


def add_briefs(app: FastAPI, server: ServerState) -> None:
    """Give briefs that are saved and opened their addresses."""
    shelf = server.shelf

    @app.get("/brief/{sitting_id}")
    async def save(sitting_id: str) -> Response:
        try:
            text = brief_text(server.asked(shelf.open(sitting_id)))
        except SitwellError as error:
            return JSONResponse({"trouble": str(error)}, status_code=404)
        headers = {**PRIVATE, "content-disposition": 'attachment; filename="brief.json"'}
        return Response(text, media_type="application/json", headers=headers)

    @app.post("/upload/brief")
    async def take_in(request: Request, name: str = "") -> Response:
        try:
            asked = await asyncio.to_thread(_read, await body_of(request), name)
            sitting = shelf.new()
            fill(sitting, asked)
        except SitwellError as error:
            return refused(request, error)
        shelf.write(sitting)
        return JSONResponse({"id": sitting.id})


def fill(sitting: Sitting, asked: Brief) -> None:
    """Write onto new papers what a brief asks for; WebError for a kit or room elsewhere."""
    sitting.label = asked.labels[0] if len(asked.sitters) == 1 else ""
    sitting.kit = asked.kit if isinstance(asked.kit, str) and asked.kit else sitting.kit
    sitting.room = asked.room if isinstance(asked.room, str) and asked.room else sitting.room
    keep_kit(sitting, flow.kit_of(asked))
    keep_room(sitting, flow.room_of(asked))
    sitting.rim_light = asked.rim
    sitting.framing, sitting.aspect = asked.framing, aspect_of(asked.aspect)
    sitting.heights = [asked.height_difference.direction, asked.height_difference.weight]
    sitting.sitters = [
        SitterNote(
            label=sitter.name,
            glasses=sitter.glasses,
            in_the_way=[name for name in sitter.in_the_way if name != NOTHING],
            without=list(THINGS if NOTHING in sitter.in_the_way else sitter.without),
            height_mm=sitter.height_mm or 0.0,
            wishes={wish.feature: [wish.direction, wish.weight] for wish in sitter.wishes},
            limits=list(sitter.limits),
        )
        for sitter in asked.sitters
    ]


def _read(body: bytes, name: str) -> Brief:
    called = Path(name).name[:120] or "brief.json"
    if not is_brief_file(Path(called)):
        raise WebError(
            tr("'{name}' is no brief; give a file in {known}.", name=called,
               known=" or ".join(SUFFIXES))
        )  # fmt: skip
    with tempfile.TemporaryDirectory(prefix="sitwell-") as folder:
        path = Path(folder) / called
        path.write_bytes(body)
        asked = open_brief(path)
    for what, presets in ((asked.kit, KITS), (asked.room, ROOMS)):
        if isinstance(what, str) and what and what not in presets:
            raise WebError(
                tr(
                    "The brief names the file '{file}'; on the pages choose a preset, or write the "
                    "kit or room into the brief.",
                    file=Path(what).name,
                )
            )
    flow.check(asked)
    return asked
