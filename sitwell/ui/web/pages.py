"""The addresses: each page is its content in the one shared frame."""

import asyncio
from collections.abc import Callable

from fastapi import Request
from fastapi.responses import Response
from nicegui import Client, app, context, ui
from nicegui.translations import translations

from sitwell.base.errors import SitwellError
from sitwell.ui.web import (
    atlas_page,
    kit_page,
    plan_page,
    practice_page,
    read_page,
    records_page,
    set_page,
    shoot_page,
    sort_page,
    start_page,
    talk_page,
)
from sitwell.ui.web.frame import TITLES, Desk, frame, greet, put_away
from sitwell.ui.web.parts import link, notice, words
from sitwell.ui.web.server_state import ServerState
from sitwell.ui.web.wording import mark, preferences, speak, t

NOWHERE = mark("Nothing is here")
CUT = mark("The line to Sitwell is cut.")
AGAIN = mark("It is tried again by itself; what you have done is kept.")
# How long another tab must leave the sitting alone before this one is drawn anew.
OTHERS_REST_S = 0.4
Content = Callable[[Desk], None]
CONTENTS: dict[str, Content] = {
    "talk": talk_page.content,
    "read": read_page.content,
    "plan": plan_page.content,
    "atlas": atlas_page.content,
    "set": set_page.content,
    "practice": practice_page.content,
    "shoot": shoot_page.content,
    "sort": sort_page.content,
    "kit": kit_page.content,
    "records": records_page.content,
}


def add_pages(server: ServerState) -> None:
    """Give every page its address."""

    @ui.page("/")
    def start(request: Request) -> None:
        greet(request, "Sitwell")
        with frame("start", "Sitwell"):
            if preferences().discreet:
                put_away(None)
            else:
                start_page.content(server)

    for here, content in CONTENTS.items():
        _add(server, here, content)
    _add_lost()


def _add(server: ServerState, here: str, content: Content) -> None:
    title = TITLES[here]

    @ui.page(f"/s/{{sitting_id}}/{here}")
    def page(request: Request, sitting_id: str) -> None:
        greet(request, title)
        try:
            sitting = server.shelf.open(sitting_id)
            server.shelf.lay_out(sitting_id)
        except SitwellError as error:
            with frame("start", "Sitwell"):
                notice(str(error), "trouble")
                link(t("To the first page"), "/", "btn main")
            return
        desk = Desk(server, sitting, context.client.id)
        with frame(here, title, desk):
            if preferences().discreet and here not in ("set", "shoot"):
                put_away(desk)
                return
            _follow(desk, content)


def _add_lost() -> None:
    """An address that is none, and a line that is cut, in our own hand."""
    before = app.exception_handlers[404]
    for own, language in (("en-US", "en"), ("de", "de")):
        says: dict[str, str] = translations[own]  # type: ignore[index]
        says["connection_lost"] = speak(CUT, language)
        says["trying_to_reconnect"] = speak(AGAIN, language)

    @app.exception_handler(404)
    async def lost(request: Request, error: Exception) -> Response:
        if request.scope.get("endpoint") not in (None, app):
            return await before(request, error)  # type: ignore[misc]
        with Client(ui.page(""), request=request) as client:
            greet(request, NOWHERE)
            with frame("start", NOWHERE):
                words("p", t("There is no page at this address; the first page leads to all."))
                link(t("To the first page"), "/", "btn main")
        return client.build_response(request, 404)


def _follow(desk: Desk, content: Content) -> None:
    """The content, drawn again when another tab has changed the sitting and rests a moment.

    A tab that nobody holds open is not drawn for; it catches up when it comes back.
    """

    @ui.refreshable
    def drawn() -> None:
        content(desk)

    drawn()
    client, loop = context.client, asyncio.get_running_loop()
    waiting: list[asyncio.TimerHandle] = []
    missed: list[str] = []

    def told(by: str) -> None:
        if by == desk.tab:
            return
        while waiting:
            waiting.pop().cancel()
        waiting.append(loop.call_later(OTHERS_REST_S, catch_up))

    def catch_up() -> None:
        missed.append("a change")
        if client.has_socket_connection:
            come_back()

    def come_back() -> None:
        if missed:
            missed.clear()
            drawn.refresh()

    def leave() -> None:
        stop()
        while waiting:
            waiting.pop().cancel()

    stop = desk.shelf.watch(desk.sitting.id, told)
    client.on_connect(come_back)
    client.on_delete(leave)
