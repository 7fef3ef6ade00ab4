"""Who may talk to the pages: this machine only, or with a code the local network; no other site.

Every request and every websocket is checked before a page sees it: the Host must be a name of this
machine (another name could be a foreign site rebound to us), an Origin must be our own, a caller
from another address must first give the code that was shown on the terminal, once, and a body may
not be larger or come oftener than a photographer needs. Who calls is told by the connection alone.
"""

import html
import re
import socket
from collections.abc import Awaitable, Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from ipaddress import IPv6Address, IPv6Network
from typing import Any
from urllib.parse import parse_qs, quote

from starlette.requests import ClientDisconnect

from sitwell.base.words import mark
from sitwell.ui.web.listening import is_this_machine, plain_address
from sitwell.ui.web.passes import PASS_S, PHONE_S, Meter, Passes
from sitwell.ui.web.wording import preferences_from, speak

Scope = dict[str, Any]
Message = dict[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

LARGEST_BODY = 150 * 1024 * 1024  # a raw file of a large sensor
LARGEST_FORM = 1024 * 1024
LARGEST_CODE = 1024  # the form with the code, before anybody is let in
MOST_UPLOADS = 60  # in a minute, from one address
MOST_TRIES = 5  # wrong codes in a minute, from one address
LOOPBACK = ("127.0.0.1", "::1", "localhost")
# A name or an address, and perhaps a port; stricter than a URL's reader, which takes more.
HOST = re.compile(r"(?:\[([0-9A-Fa-f:.]+)\]|([\w.-]+))(?::\d{1,5})?", re.ASCII)
UPLOAD_PATH = "/upload/"
PRACTICE_PATH = "/practice/"
MOST_PRACTICE = 420  # pictures of the practice camera in a minute, from one address
DOOR = "/enter"
PASS_COOKIE = "sitwell_pass"
ONE_PAGE = "sitwell_one_page"  # in a request's scope: its caller may see this page alone
TYPE_IT = mark("Type the code that stands on the terminal. It serves once.")
TOO_OFTEN = mark("Too many tries; wait a minute.")
NO_FIT = mark("This code does not fit, or it was used.")
TOO_LATE = mark("This code was used, or its two minutes are over; show another on the computer.")
ONE_ONLY = mark("This device is let in to one page, for four hours.")
CODE, ENTER = mark("Code"), mark("Enter")
HEADERS = {
    # the framework builds its page from inline scripts; nothing may come from another place
    "content-security-policy": (
        "default-src 'self'; script-src 'self' 'unsafe-inline' 'unsafe-eval' blob:; "
        "style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:; font-src 'self'; "
        "connect-src 'self'; frame-ancestors 'none'; base-uri 'none'; form-action 'self'"
    ),
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
}


class Guard:
    """ASGI middleware that lets only the photographer in."""

    def __init__(self, app: App, *, passes: Passes | None = None, tests: bool = False) -> None:
        self.app = app
        self.passes = passes
        self.tries = Meter(MOST_TRIES)
        self.uploads = Meter(MOST_UPLOADS)
        self.practice = Meter(MOST_PRACTICE)
        self.names = frozenset({*LOOPBACK, *(("test",) if tests else ())})

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse, ask for the code, or pass the request on."""
        if scope["type"] not in ("http", "websocket"):
            return await self.app(scope, receive, send)
        headers = _headers(scope)
        if refusal := self._refusal(scope, headers):
            return await _refuse(scope, receive, send, *refusal)
        if scope["type"] == "http" and scope["path"] == DOOR and self.passes is not None:
            return await self._door(scope, receive, send, headers)
        if not self._let_in(scope, headers):
            return await self._door(scope, receive, send, headers)
        scope[ONE_PAGE] = self._sees_one_page(scope, headers)
        if scope["type"] == "websocket":
            line = _Line(receive, send, lambda: self._let_in(scope, headers))
            return await self.app(scope, line.hear, line.say)
        if refusal := self._too_much(scope, headers):
            return await _refuse(scope, receive, send, *refusal)
        limit = LARGEST_BODY if scope["path"].startswith(UPLOAD_PATH) else LARGEST_FORM
        exchange = _Exchange(receive, send, limit)
        with suppress(ClientDisconnect):  # what waits for the rest of a body that never comes
            await self.app(scope, exchange.hear, exchange.answer)
        await exchange.end()

    def _refusal(self, scope: Scope, headers: Mapping[str, str]) -> tuple[int, str] | None:
        if self.passes is None and not is_this_machine(_address(scope)):
            return 403, "Only this machine is let in; 'sitwell serve --lan' asks others for a code."
        host = headers.get("host", "")
        if not self._is_ours(scope, host):
            return 403, f"'{host}' is not a name of this machine; open the address on the terminal."
        origin = headers.get("origin")
        asks_to_write = scope["type"] == "websocket" or scope["method"] not in ("GET", "HEAD")
        if origin is None and asks_to_write and "test" not in self.names:
            return 403, "This request names no origin; use the pages themselves."
        if origin is not None and origin not in (f"http://{host}", f"https://{host}"):
            return 403, f"'{origin}' is another site; use the pages themselves."
        return None

    def _too_much(self, scope: Scope, headers: Mapping[str, str]) -> tuple[int, str] | None:
        if scope["path"].startswith(PRACTICE_PATH) and not self.practice.allows(_caller(scope)):
            return 429, f"More than {MOST_PRACTICE} pictures in a minute; wait a moment and go on."
        if not scope["path"].startswith(UPLOAD_PATH):
            return None
        size = headers.get("content-length", "0")
        if not size.isdecimal() or int(size) > LARGEST_BODY:
            return 413, f"This file is larger than {LARGEST_BODY >> 20} MB; give a smaller copy."
        if not self.uploads.allows(_caller(scope)):
            return 429, f"More than {MOST_UPLOADS} files in a minute; wait a moment and go on."
        return None

    def _is_ours(self, scope: Scope, host: str) -> bool:
        written = HOST.fullmatch(host)
        name = (written[1] or written[2]).lower() if written else ""
        if name in self.names:
            return True
        # the address that was really called: a foreign site may lead to it, but not by this name
        called = plain_address(str((scope.get("server") or ("",))[0]))
        if called is not None and plain_address(name) == called:
            return True
        own = socket.gethostname().lower()
        return self.passes is not None and name in (own, f"{own}.local") and name != ""

    def _let_in(self, scope: Scope, headers: Mapping[str, str]) -> bool:
        if is_this_machine(_address(scope)):
            return True
        token = _pass(headers.get("cookie", ""))
        return self.passes is not None and self.passes.hold(token, scope["path"])

    def _sees_one_page(self, scope: Scope, headers: Mapping[str, str]) -> bool:
        if self.passes is None or is_this_machine(_address(scope)):
            return False
        return _pass(headers.get("cookie", "")) in self.passes.only

    async def _door(
        self, scope: Scope, receive: Receive, send: Send, headers: Mapping[str, str]
    ) -> None:
        if scope["type"] == "websocket":
            return await _refuse(scope, receive, send, 403, "Give the code first.")
        page = _DoorPage(_language(headers))
        if self.passes is None or scope["path"] != DOOR:
            return await _answer(send, 401, page.written())
        if scope["method"] != "POST":
            return await self._show_door(scope, send, headers, page)
        if not self.tries.allows(_caller(scope)):
            return await _answer(send, 429, page.written(TOO_OFTEN))
        form = parse_qs((await _body(receive, LARGEST_CODE)).decode("utf-8", "replace"))
        token = self.passes.admit(form.get("code", [""])[0])
        if token is None:
            return await _answer(send, 403, page.written(NO_FIT))
        only = self.passes.only.get(token)
        cookie = (
            f"{PASS_COOKIE}={token}; Path=/; Max-Age={PHONE_S if only else PASS_S:.0f}; HttpOnly; "
            f"SameSite=Strict{'; Secure' if scope.get('scheme') == 'https' else ''}"
        )
        location = quote(only.address) if only else "/"
        await _answer(send, 303, "", {"location": location, "set-cookie": cookie})

    async def _show_door(
        self, scope: Scope, send: Send, headers: Mapping[str, str], page: "_DoorPage"
    ) -> None:
        """The door asked for by name: with a code that was scanned, one touch opens it."""
        code = parse_qs(scope.get("query_string", b"").decode("latin-1")).get("code", [""])[0]
        invited = self.passes.invited_to(code) if self.passes else None
        if self._let_in({**scope, "path": invited.address if invited else "/"}, headers):
            # who may see it anyway keeps the pass that opens more
            location = quote(invited.address) if invited else "/"
            return await _answer(send, 303, "", {"location": location})
        if invited is None:
            return await _answer(send, 401, page.written(TOO_LATE if code else ""))
        await _answer(send, 200, page.written(code=code))


def _headers(scope: Scope) -> dict[str, str]:
    return {key.decode("latin-1"): value.decode("latin-1") for key, value in scope["headers"]}


def _language(headers: Mapping[str, str]) -> str:
    """The language of a browser that stands at the door."""
    cookies = _cookies(headers.get("cookie", ""))
    return preferences_from(cookies, headers.get("accept-language", "")).language


def _pass(cookies: str) -> str:
    """The pass among a browser's cookies; "" for none."""
    return _cookies(cookies).get(PASS_COOKIE, "")


def _cookies(written: str) -> dict[str, str]:
    """A browser's cookies by name; none where it is what no browser writes."""
    try:
        return {name: cookie.value for name, cookie in SimpleCookie(written).items()}
    except CookieError:
        return {}


def _address(scope: Scope) -> str:
    return str((scope.get("client") or ("unknown",))[0])


def _caller(scope: Scope) -> str:
    """Who is counted as one: an address, in IPv6 its network, of which a device has many."""
    found = plain_address(_address(scope))
    if isinstance(found, IPv6Address):
        return str(IPv6Network((found, 64), strict=False))
    return str(found)


@dataclass(slots=True)
class _Line:
    """A websocket; it is hung up at the first word, of either side, after its caller's pass ended.

    A page that stays open is sent a ping every half minute, so that is soon.
    """

    receive: Receive
    send: Send
    holds: Callable[[], bool]
    cut: bool = False

    async def hear(self) -> Message:
        """The next message of the browser."""
        message = await self.receive()
        if message["type"] != "websocket.receive":
            return message
        await self._hang_up_in_time()
        return {"type": "websocket.disconnect", "code": 1008} if self.cut else message

    async def say(self, message: Message) -> None:
        """The next message to the browser."""
        if message["type"] == "websocket.send":
            await self._hang_up_in_time()
        if not self.cut:
            await self.send(message)

    async def _hang_up_in_time(self) -> None:
        if self.cut or self.holds():
            return
        self.cut = True
        await self.send({"type": "websocket.close", "code": 1008, "reason": "The pass has ended."})


@dataclass(slots=True)
class _Exchange:
    """One request and its answer; a body that grows past the limit is cut off, whatever its header.

    A browser that goes away ends the app's work wherever it stands, so that there is no answer or
    half of one; layers around us take that for a fault. ``end`` says the rest into the void.
    """

    receive: Receive
    send: Send
    limit: int
    taken: int = 0
    cut: bool = False
    begun: bool = False
    done: bool = False

    async def hear(self) -> Message:
        """The next part of the request."""
        message = await self.receive()
        self.taken += len(message.get("body", b""))
        if self.taken > self.limit:
            message = {"type": "http.disconnect"}
        self.cut = self.cut or message["type"] == "http.disconnect"
        return message

    async def answer(self, message: Message) -> None:
        """The next part of the answer, with our headers."""
        if message["type"] == "http.response.start":
            extra = [(key.encode(), value.encode()) for key, value in HEADERS.items()]
            message = {**message, "headers": [*message.get("headers", ()), *extra]}
            self.begun = True
        elif not message.get("more_body", False):
            self.done = True
        await self.send(message)

    async def end(self) -> None:
        """Bring an answer that was cut off to its end."""
        if self.done or not self.cut:
            return
        if self.begun:
            await self.send({"type": "http.response.body", "body": b""})
        elif self.taken > self.limit:
            await _answer(self.send, 413, f"This is larger than {self.limit >> 20} MB.")
        else:
            await _answer(self.send, 400, "The browser went away.")


async def _body(receive: Receive, most: int) -> bytes:
    body = b""
    while len(body) < most:
        message = await receive()
        body += message.get("body", b"")
        if not message.get("more_body"):
            break
    return body


async def _refuse(scope: Scope, receive: Receive, send: Send, status: int, why: str) -> None:
    if scope["type"] == "websocket":
        await receive()
        return await send({"type": "websocket.close", "code": 1008, "reason": why[:120]})
    await _answer(send, status, why, {"content-type": "text/plain; charset=utf-8"})


async def _answer(
    send: Send, status: int, text: str, headers: Mapping[str, str] | None = None
) -> None:
    named = {"content-type": "text/html; charset=utf-8", **HEADERS, **(headers or {})}
    pairs = [(key.encode(), value.encode()) for key, value in named.items()]
    await send({"type": "http.response.start", "status": status, "headers": pairs})
    await send({"type": "http.response.body", "body": text.encode()})


@dataclass(frozen=True, slots=True)
class _DoorPage:
    """The page at which a device gives its code, in its reader's language."""

    language: str

    def written(self, trouble: str = "", *, code: str = "") -> str:
        """The form to type a code in, or with a ``code`` that was scanned, a button alone."""
        say = html.escape(speak(ONE_ONLY if code else TYPE_IT, self.language))
        told = html.escape(speak(trouble, self.language))
        note = f"<p role=alert>{told}</p>" if trouble else ""
        field = (
            f"<input type=hidden name=code value={html.escape(code, quote=True)!r}>"
            if code
            else f"<label>{speak(CODE, self.language)}<input name=code class=code autofocus "
            "autocomplete=off maxlength=8></label>"
        )
        return (
            f"<!doctype html><html lang={self.language}><meta charset=utf-8>"
            "<meta name=viewport content='width=device-width'><title>Sitwell</title>"
            "<style>body{font:1.3rem/1.5 Georgia,serif;max-width:24rem;margin:15vh auto;"
            "padding:0 1rem;background:#f5f0e4;color:#1b2430}input,button{font:inherit;"
            "padding:.4em;width:100%;box-sizing:border-box;margin:.4rem 0}"
            ".code{letter-spacing:.2em;text-transform:uppercase}</style><h1>Sitwell</h1>"
            f"<p>{say}</p>{note}<form method=post action={DOOR}>{field}"
            f"<button>{speak(ENTER, self.language)}</button></form></html>"
        )
