"""The server of the pages: where it listens, what it lets in, and where its papers lie."""

import asyncio
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
from sitwell.ui.web.certificate import certificate_for, fingerprint
from sitwell.ui.web.documents import Shelf
from sitwell.ui.web.jobs import Workshop
from sitwell.ui.web.listening import addresses, encrypted_address, is_this_machine
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


def serve(
    listener: socket,
    folder: Path | None = None,
    *,
    show: bool = True,
    encrypted: socket | None = None,
) -> None:
    """Open the pages until interrupted, on a socket that ``open_socket`` gave.

    Where others can reach it, each device must give the code that is printed here, once.
    ``folder`` is where the working papers lie; ``encrypted`` is a second socket, for the network,
    that ``open_encrypted`` gave: what goes through it is encrypted.
    """
    folder = folder or papers_folder()
    own, network = addresses(listener)
    certificate = None
    if encrypted is not None:
        network = encrypted_address(encrypted)
        certificate = certificate_for(folder, encrypted.getsockname()[0])
    here = encrypted is None and is_this_machine(listener.getsockname()[0])
    passes = None if here else Passes(announce=_announce, network=network)
    build(folder, passes=passes)
    around = FastAPI(openapi_url=None)
    ui.run_with(around, **settings())
    servers = [(_config(around), listener)]
    if encrypted is not None:
        servers.append((_config(around, certificate), encrypted))

    def opened() -> None:
        _say_open(own, network, certificate)
        if passes is not None:
            passes.tell()
        if show:
            threading.Thread(target=webbrowser.open, args=[own], daemon=True).start()

    asyncio.run(_serve(servers, opened))


async def _serve(servers: list[tuple[uvicorn.Config, socket]], opened: Callable[[], None]) -> None:
    """Serve on each socket; the first sets the app up and lets it go, so the others wait for it."""
    (config, listener), *others = servers
    ready = asyncio.Event()

    async def later(config: uvicorn.Config, listener: socket) -> None:
        await ready.wait()
        await uvicorn.Server(config).serve([listener])

    def set_up() -> None:
        ready.set()
        opened()

    beside = [asyncio.create_task(later(*other)) for other in others]
    try:
        await Server(config, set_up).serve([listener])
    finally:
        for task in beside:
            task.cancel()


def _config(around: FastAPI, certificate: Path | None = None) -> uvicorn.Config:
    return uvicorn.Config(
        around,
        log_level="warning",
        access_log=False,
        ws="wsproto",
        ws_max_size=1024 * 1024,
        proxy_headers=False,  # who calls is who is connected, whatever a header says
        lifespan="off" if certificate else "auto",
        ssl_certfile=certificate,
        ssl_keyfile=certificate,
    )


def build(
    folder: Path | None = None, *, passes: Passes | None = None, tests: bool = False
) -> ServerState:
    """Put pages, files and the guard together; gives what the pages share.

    With a ``folder`` the records lie in it as well; otherwise each has its usual place.
    """
    home = folder / "records" if folder else None
    folder = folder or papers_folder()
    door = Door(home=home, papers=folder)
    shelf, workshop = Shelf(folder), Workshop(inline=tests)
    server = ServerState(shelf=shelf, workshop=workshop, door=door, passes=passes)
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


def _say_open(own: str, network: str, certificate: Path | None) -> None:
    print(f"Sitwell is open at {own}", flush=True)
    if network and network != own:
        print(f"In the local network: {network}", flush=True)
    if certificate is not None:
        print(f"Its certificate's fingerprint (SHA-256): {fingerprint(certificate)}", flush=True)


def _announce(code: str) -> None:
    print(f"Code for the next device: {code}", flush=True)
