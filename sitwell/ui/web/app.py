"""The server of the pages: where it listens, what it lets in, and where its papers lie."""

import os
import threading
import webbrowser
from collections.abc import Callable
from pathlib import Path
from socket import socket
from typing import Any

import platformdirs
import uvicorn
from fastapi import FastAPI

# The framework makes a folder for its own storage when it is imported; ours are elsewhere.
os.environ.setdefault(
    "NICEGUI_STORAGE_PATH", str(Path(platformdirs.user_cache_dir("sitwell")) / "pages")
)

from nicegui import app, background_tasks, ui

from sitwell.store.places import default_home
from sitwell.ui.records_door import Door
from sitwell.ui.web.brief_file import add_briefs
from sitwell.ui.web.documents import Shelf
from sitwell.ui.web.jobs import Workshop
from sitwell.ui.web.listening import addresses, is_this_machine
from sitwell.ui.web.pages import add_pages
from sitwell.ui.web.passes import Passes
from sitwell.ui.web.security import Guard
from sitwell.ui.web.server_state import ServerState
from sitwell.ui.web.terms import keep_order, keep_terms
from sitwell.ui.web.uploads import add_files, add_records
from sitwell.ui.web.views import add_looks

HERE = Path(__file__).resolve().parent
ICON = HERE / "assets" / "icon.svg"


class Server(uvicorn.Server):
    """A server that says when it is open."""

    def __init__(self, config: uvicorn.Config, opened: Callable[[], None]) -> None:
        super().__init__(config)
        self._opened = opened

    async def startup(self, sockets: list[socket] | None = None) -> None:
        """Begin to answer, then say so."""
        await super().startup(sockets)
        if self.started:
            self._opened()


def serve(listener: socket, folder: Path | None = None, *, show: bool = True) -> None:
    """Open the pages until interrupted, on a socket that ``open_socket`` gave.

    Where others can reach it, each device must give the code that is printed here, once.
    ``folder`` is where the working papers lie.
    """
    here = is_this_machine(listener.getsockname()[0])
    passes = None if here else Passes(announce=_announce)
    build(folder, passes=passes)
    around = FastAPI(openapi_url=None)
    ui.run_with(around, **settings())
    config = uvicorn.Config(
        around,
        log_level="warning",
        access_log=False,
        ws="wsproto",
        ws_max_size=1024 * 1024,
        proxy_headers=False,  # who calls is who is connected, whatever a header says
    )
    Server(config, lambda: _say_open(listener, passes, show)).run([listener])


def build(
    folder: Path | None = None, *, passes: Passes | None = None, tests: bool = False
) -> ServerState:
    """Put pages, files and the guard together; gives what the pages share.

    With a ``folder`` the records lie in it as well; otherwise each has its usual place.
    """
    home = folder / "records" if folder else None
    folder = folder or papers_folder()
    door = Door(home=home, papers=folder)
    server = ServerState(shelf=Shelf(folder), workshop=Workshop(inline=tests), door=door)
    app.add_static_files("/assets", HERE / "assets", max_cache_age=0 if tests else 3600)
    add_files(app, server)
    add_looks(app, server)
    add_records(app, server)
    add_briefs(app, server)
    add_pages(server)
    app.add_middleware(Guard, passes=passes, tests=tests)
    app.on_startup(lambda: background_tasks.create(keep_terms(server)))
    app.on_startup(lambda: background_tasks.create(keep_order(server)))
    app.on_shutdown(server.close)
    return server


def settings() -> dict[str, Any]:
    """How the framework runs: no styles of its own that we don't use."""
    return {
        "title": "Sitwell",
        "favicon": ICON,
        "tailwind": False,
        "dark": None,
        "show_welcome_message": False,
        "reconnect_timeout": 30.0,
    }


def papers_folder() -> Path:
    """Where working papers lie: beside the records."""
    return default_home() / "sittings"


def _say_open(listener: socket, passes: Passes | None, show: bool) -> None:
    own, network = addresses(listener)
    print(f"Sitwell is open at {own}", flush=True)
    if network and network != own:
        print(f"In the local network: {network}", flush=True)
    if passes is not None:
        passes.tell()
    if show:
        threading.Thread(target=webbrowser.open, args=[own], daemon=True).start()


def _announce(code: str) -> None:
    print(f"Code for the next device: {code}", flush=True)
