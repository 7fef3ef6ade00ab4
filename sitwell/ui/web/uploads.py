"""Frames in and pictures out: a frame lands in its sitting's folder, and nothing else is served."""

import secrets
from io import BytesIO
from pathlib import Path
from typing import Any

from fastapi import FastAPI, Request
from fastapi.responses import FileResponse, JSONResponse, Response
from nicegui import run
from PIL import Image

from sitwell.base.errors import PhotoError, SealError, SitwellError, WebError
from sitwell.base.files import write_atomically
from sitwell.base.words import renamed, tr
from sitwell.brief.photos import PHOTO_SUFFIXES, open_photo
from sitwell.store.sealed_files import is_sealed_file
from sitwell.ui.web.documents import Shelf
from sitwell.ui.web.paper import FRAME_ID, FrameNote, SitterNote, Sitting
from sitwell.ui.web.security import LARGEST_BODY
from sitwell.ui.web.server_state import ServerState
from sitwell.ui.web.views import PRIVATE, refused, sitter_at

VIEW_SIDE_PX = 1600
MOST_FRAMES = 40
DRAWN_FILES = {".pdf": "application/pdf", ".png": "image/png", ".jpg": "image/jpeg"}


def add_files(app: FastAPI, server: ServerState) -> None:
    """Give uploads, views of frames, and drawn sheets their addresses."""
    shelf = server.shelf

    @app.post("/upload/{sitting_id}/{at}")
    async def upload(
        request: Request, sitting_id: str, at: int, name: str = "", tab: str = ""
    ) -> Response:
        try:
            _, sitter = _willing(shelf, sitting_id, at)
            frame = _expected(name, sitter)
            body = await body_of(request)
            # a large one takes its time: the sitting may have been erased, or the yes taken back
            sitting, sitter = _willing(shelf, sitting_id, at)
            await run.io_bound(store_frame, shelf.place(sitting_id) / "frames", frame, body)
        except SitwellError as error:
            return refused(request, error)
        sitter.frames.append(frame)
        shelf.changed(sitting, tab)
        return JSONResponse({"id": frame.id})

    @app.get("/frame/{sitting_id}/{frame_id}")
    async def view(sitting_id: str, frame_id: str) -> Response:
        try:
            path = shelf.place(sitting_id) / "frames" / f"{_frame_id(frame_id)}.view.jpg"
        except SitwellError as error:
            return JSONResponse({"trouble": str(error)}, status_code=404)
        return _file(shelf, path, "image/jpeg")

    @app.get("/drawn/{sitting_id}/{name}")
    async def drawn(sitting_id: str, name: str) -> Response:
        try:
            folder = shelf.place(sitting_id) / "drawn"
        except SitwellError as error:
            return JSONResponse({"trouble": str(error)}, status_code=404)
        known = {path.name: path for path in folder.glob("*")} if folder.is_dir() else {}
        path = known.get(name)
        if path is None or path.suffix not in DRAWN_FILES or path.is_symlink():
            return JSONResponse({"trouble": "There is no such sheet; draw it again."}, 404)
        return _file(shelf, path, DRAWN_FILES[path.suffix])


def add_records(app: FastAPI, server: ServerState) -> None:
    """Give an exported sitting that is taken in its address."""

    @app.post("/upload/records")
    async def take_in(request: Request, name: str = "") -> Response:
        try:
            body = await body_of(request)
            called = Path(name).name[:120] or tr("the file")
            taken = await run.io_bound(server.door.take_in_bytes, body, called)
        except SitwellError as error:
            return refused(request, error)
        return JSONResponse({"id": taken})


def _willing(shelf: Shelf, sitting_id: str, at: int) -> tuple[Sitting, SitterNote]:
    sitting = shelf.open(sitting_id)
    sitter = sitter_at(sitting, at)
    if not sitter.consent_at:
        raise WebError(tr("The sitter has not said yes yet; ask them first."))
    return sitting, sitter


def _expected(name: str, sitter: SitterNote) -> FrameNote:
    suffix = Path(name).suffix.lower()
    if suffix not in PHOTO_SUFFIXES:
        known = "JPEG, PNG, TIFF, WebP, HEIF or a camera's raw file"
        raise PhotoError(
            tr(
                "'{name}' is not a photograph; give a {known}.",
                name=Path(name).name[:80],
                known=known,
            )
        )
    if len(sitter.frames) >= MOST_FRAMES:
        raise WebError(
            tr(
                "There are {most_frames} frames on the table; take some away first.",
                most_frames=MOST_FRAMES,
            )
        )
    return frame_for(name)


def frame_for(name: str) -> FrameNote:
    """A fresh note for a frame that the photographer calls so."""
    new = secrets.token_hex(4)
    return FrameNote(id=new, file=f"{new}{Path(name).suffix.lower()}", name=Path(name).name[:120])


async def body_of(request: Request) -> bytes:
    """What was sent, as far as it is not too large: WebError."""
    body = bytearray()
    async for part in request.stream():
        body += part
        if len(body) > LARGEST_BODY:
            raise WebError(
                tr(
                    "This file is larger than {number} MB; give a smaller copy.",
                    number=LARGEST_BODY >> 20,
                )
            )
    return bytes(body)


def store_frame(folder: Path, frame: FrameNote, body: bytes) -> None:
    """Keep the frame as it came, and a smaller view of it; what can't be shown is not kept."""
    path = write_atomically(folder / frame.file, body)
    try:
        photo = open_photo(path, largest_side_px=VIEW_SIDE_PX)
        view = BytesIO()
        Image.fromarray(photo.rgb).save(view, "JPEG", quality=88)
        write_atomically(folder / f"{frame.id}.view.jpg", view.getvalue())
    except BaseException as error:
        path.unlink()
        if isinstance(error, PhotoError):
            raise PhotoError(renamed(str(error), {frame.file: frame.name})) from error
        raise
    frame.width_px, frame.height_px = photo.width_px, photo.height_px


def _frame_id(text: str) -> str:
    if not FRAME_ID.fullmatch(text):
        raise WebError(tr("There is no such frame; open the page again."))
    return text


def _file(shelf: Shelf, path: Path, kind: str) -> Any:
    if not path.is_file():
        return JSONResponse({"trouble": "It is not here any more; open the page again."}, 404)
    if not is_sealed_file(path):
        return FileResponse(path, media_type=kind, headers=PRIVATE)
    try:
        return Response(shelf.read_file(path), media_type=kind, headers=PRIVATE)
    except SealError as error:
        return JSONResponse({"trouble": str(error)}, 404)
