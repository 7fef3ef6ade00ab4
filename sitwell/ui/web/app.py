"""The server of the pages: where it listens, what it lets in, and where its papers lie."""

import os
import socket
from pathlib import Path
from typing import Any

import platformdirs

# The framework makes a folder for its own storage when it is imported; ours are elsewhere.
os.environ.setdefault(
    "NICEGUI_STORAGE_PATH", str(Path(platformdirs.user_cache_dir("sitwell")) / "pages")
)

from nicegui import app, background_tasks, ui

from sitwell.store.places import default_home
from sitwell.ui.keeping import Door
from sitwell.ui.web.documents import Shelf
from sitwell.ui.web.house import House
from sitwell.ui.web.jobs import Workshop
from sitwell.ui.web.looks import add_looks
from sitwell.ui.web.pages import add_pages
from sitwell.ui.web.security import Guard, Passes
from sitwell.ui.web.terms import keep_order, keep_terms
from sitwell.ui.web.uploads import add_files, add_records

HERE = Path(__file__).resolve().parent
ICON = HERE / "look" / "icon.svg"


def serve(
    host: str = "127.0.0.1",
    port: int = 8321,
    *,
    lan: bool = False,
    folder: Path | None = None,
    show: bool = True,
) -> None:
    """Open the pages until interrupted: this machine only, or with ``lan`` the local network.

    With ``lan`` each other device must give the code that is printed here, once. ``folder`` is
    where the working papers lie.
    """
    passes = Passes(announce=_announce) if lan else None
    build(folder, passes=passes)
    listen = "0.0.0.0" if lan and host == "127.0.0.1" else host
    print(f"Sitwell is open at http://{'127.0.0.1' if lan else host}:{port}", flush=True)
    if lan:
        print(f"In the local network: http://{_lan_address()}:{port}", flush=True)
    ui.run(host=listen, port=port, show=show, **settings())


def build(
    folder: Path | None = None, *, passes: Passes | None = None, tests: bool = False
) -> House:
    """Put pages, files and the guard together; gives what the pages share.

    With a ``folder`` the records lie in it as well; otherwise each has its usual place.
    """
    home = folder / "records" if folder else None
    folder = folder or papers_folder()
    door = Door(home=home, papers=folder)
    house = House(shelf=Shelf(folder), workshop=Workshop(inline=tests), door=door)
    app.add_static_files("/look", HERE / "look", max_cache_age=0 if tests else 3600)
    add_files(app, house)
    add_looks(app, house)
    add_records(app, house)
    add_pages(house)
    app.add_middleware(Guard, passes=passes, tests=tests)
    app.on_startup(lambda: background_tasks.create(keep_terms(house)))
    app.on_startup(lambda: background_tasks.create(keep_order(house)))
    app.on_shutdown(house.close)
    return house


def settings() -> dict[str, Any]:
    """How the framework runs: no reloading, no styles of its own that we don't use."""
    return {
        "title": "Sitwell",
        "favicon": ICON,
        "reload": False,
        "tailwind": False,
        "dark": None,
        "show_welcome_message": False,
        "reconnect_timeout": 30.0,
        "access_log": False,
        "ws_max_size": 1024 * 1024,
    }


def papers_folder() -> Path:
    """Where working papers lie: beside the records."""
    return default_home() / "sittings"


def _announce(code: str) -> None:
    print(f"Code for the next device: {code}", flush=True)


def _lan_address() -> str:
    # connecting a datagram socket sends nothing; it only asks which address would be used
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))
            return str(probe.getsockname()[0])
        except OSError:
            return socket.gethostname()
