"""Views that are made when asked for: a set-up as the camera sees it, and a practice picture."""

import asyncio
from io import BytesIO
from pathlib import Path

from fastapi import FastAPI, Request
from fastapi.responses import JSONResponse, Response
from PIL import Image

from sitwell.base.errors import SitwellError, WebError
from sitwell.base.words import retold, spoken, tr
from sitwell.brief.photos import open_photo
from sitwell.ui.web.group_sitting import group_picture
from sitwell.ui.web.page_likenesses import turned_to
from sitwell.ui.web.paper import SitterNote, Sitting
from sitwell.ui.web.server_state import ServerState
from sitwell.ui.web.wording import Preferences, preferences_from

SEEN_PX, TOGETHER_PX, THUMB_PX = 480, 420, 240
# A browser keeps on the disk what it may keep at all, and nobody can erase it there.
PRIVATE = {"cache-control": "no-store"}


def add_looks(app: FastAPI, server: ServerState) -> None:
    """Give views of set-ups and the practice camera their addresses."""
    shelf = server.shelf

    @app.get("/seen/{sitting_id}/{at}/{name}")
    async def seen(sitting_id: str, at: int, name: str) -> Response:
        try:
            sitting = shelf.open(sitting_id)
            sitter_at(sitting, at)
            portrait = await server.portrait(turned_to(sitting, at), name, SEEN_PX)
        except SitwellError as error:
            return _trouble(error, 404)
        picture, kind = await asyncio.to_thread(portrait.encoded)
        return Response(picture, media_type=kind, headers=PRIVATE)

    @app.get("/seen-together/{sitting_id}/{name}")
    async def seen_together(sitting_id: str, name: str) -> Response:
        try:
            portrait = await group_picture(server, shelf.open(sitting_id), name, TOGETHER_PX)
        except SitwellError as error:
            return _trouble(error, 404)
        picture, kind = await asyncio.to_thread(portrait.encoded)
        return Response(picture, media_type=kind, headers=PRIVATE)

    @app.get("/landed/{sitting_id}/{name}")
    async def landed(sitting_id: str, name: str) -> Response:
        try:
            watch = server.folder_watch(shelf.open(sitting_id))
            if watch is None or name not in {checked.file for checked in tuple(watch.seen)}:
                raise WebError(tr("There is no such frame; open the page again."))
            picture = await asyncio.to_thread(_thumb, watch.folder / name)
        except SitwellError as error:
            return _trouble(error, 404)
        return Response(picture, media_type="image/jpeg", headers=PRIVATE)

    @app.post("/practice/{sitting_id}/{at}")
    async def practise(request: Request, sitting_id: str, at: int) -> Response:
        try:
            sitting = shelf.open(sitting_id)
            sitter_at(sitting, at)
            practice = await asyncio.to_thread(server.practice, turned_to(sitting, at))
            picture = await request.body()
            wanted = _preferences_of(request)
            with spoken(wanted.language):
                told = await asyncio.to_thread(practice.look, picture, wanted.units)
        except SitwellError as error:
            return refused(request, error)
        return JSONResponse(told)


def _thumb(path: Path) -> bytes:
    made = BytesIO()
    Image.fromarray(open_photo(path, largest_side_px=THUMB_PX).rgb).save(made, "JPEG", quality=84)
    return made.getvalue()


def sitter_at(sitting: Sitting, at: int) -> SitterNote:
    """The sitter of that number; WebError where there is none."""
    if not 0 <= at < len(sitting.sitters):
        raise WebError(tr("There is no sitter {number}; open the page again.", number=at + 1))
    return sitting.sitters[at]


def refused(request: Request, error: SitwellError) -> Response:
    """Why something sent can't serve, in the language of whoever sent it."""
    with spoken(_preferences_of(request).language):
        return JSONResponse({"trouble": retold(str(error))}, status_code=422)


def _preferences_of(request: Request) -> Preferences:
    return preferences_from(dict(request.cookies), request.headers.get("accept-language", ""))


def _trouble(error: SitwellError, status: int) -> Response:
    return JSONResponse({"trouble": str(error)}, status_code=status)
