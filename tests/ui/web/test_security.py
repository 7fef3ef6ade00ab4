"""The guard lets the photographer in and nobody else; each rule is tripped once."""

import asyncio

import pytest
from starlette.middleware.base import BaseHTTPMiddleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import ClientDisconnect

from sitwell.ui.web.passes import MANY_CALLERS, PASS_S, Meter, Passes
from sitwell.ui.web.security import (
    LARGEST_BODY,
    LARGEST_FORM,
    MOST_PRACTICE,
    MOST_TRIES,
    MOST_UPLOADS,
    Guard,
)

HERE = {"host": "127.0.0.1:8321"}
SAME = HERE | {"origin": "http://127.0.0.1:8321"}


async def app(scope, receive, send):
    """An app behind the guard: reads its body and says how much it got."""
    if scope["type"] == "websocket":
        await receive()
        await send({"type": "websocket.accept"})
        while (await receive())["type"] == "websocket.receive":
            await send({"type": "websocket.send", "text": "heard"})
        await send({"type": "websocket.send", "text": "too late"})
        return
    size, more = 0, True
    while more:
        message = await receive()
        if message["type"] == "http.disconnect":
            raise ClientDisconnect
        size += len(message.get("body", b""))
        more = message.get("more_body", False)
    await send({"type": "http.response.start", "status": 200, "headers": []})
    await send({"type": "http.response.body", "body": str(size).encode()})


def ask(
    guard,
    headers,
    *,
    kind="http",
    method="GET",
    path="/",
    query="",
    body=(b"",),
    client="127.0.0.1",
    server="192.168.7.2",
):
    """Status (or the first kind of a websocket's messages), headers and text of the answer."""
    parts = [{"type": "http.request", "body": b, "more_body": True} for b in body]
    parts[-1]["more_body"] = False
    sent = []

    async def receive():
        if kind == "http":
            return parts.pop(0)
        return {"type": "websocket.disconnect" if sent else "websocket.connect"}

    async def send(message):
        sent.append(message)

    scope = {
        "type": kind,
        "method": method,
        "path": path,
        "query_string": query.encode(),
        "client": (client, 50000),
        "server": (server, 8321),
        "headers": [(k.encode(), v.encode()) for k, v in headers.items()],
    }
    asyncio.run(guard(scope, receive, send))
    if kind == "websocket":
        return sent[0]["type"]
    named = {k.decode(): v.decode() for k, v in sent[0]["headers"]}
    return sent[0]["status"], named, sent[-1]["body"].decode()


@pytest.fixture
def guard():
    return Guard(app)


def test_this_machine_is_served_with_strict_headers(guard):
    status, headers, _ = ask(guard, HERE)
    assert status == 200
    assert "frame-ancestors 'none'" in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1.evil.example", "", "192.168.7.3:8321"])
def test_a_name_that_is_not_ours_is_refused(guard, host):
    status, _, text = ask(guard, {"host": host})
    assert status == 403
    assert f"'{host}' is not a name of this machine; open the address on the terminal." in text


@pytest.mark.parametrize("kind", ["http", "websocket"])
def test_another_site_is_refused(guard, kind):
    answer = ask(guard, HERE | {"origin": "https://evil.example"}, kind=kind, method="GET")
    if kind == "websocket":
        assert answer == "websocket.close"
    else:
        assert answer[0] == 403
        assert "'https://evil.example' is another site; use the pages themselves." in answer[2]


def test_a_websocket_must_name_its_origin(guard):
    assert ask(guard, HERE, kind="websocket") == "websocket.close"
    assert ask(guard, SAME, kind="websocket") == "websocket.accept"


def test_writing_must_name_its_origin(guard):
    assert ask(guard, HERE, method="POST")[0] == 403
    assert ask(guard, SAME, method="POST")[0] == 200


def test_a_file_that_says_it_is_too_large_is_refused(guard):
    headers = SAME | {"content-length": str(LARGEST_BODY + 1)}
    status, _, text = ask(guard, headers, method="POST", path="/upload/x/0")
    assert status == 413
    assert text == "This file is larger than 150 MB; give a smaller copy."


def test_a_body_that_lies_about_its_size_is_cut_off(guard):
    chunk = b"x" * (LARGEST_FORM // 2 + 1)
    headers = SAME | {"content-length": "3"}
    status, _, text = ask(guard, headers, method="POST", body=(chunk, chunk))
    assert (status, text) == (413, "This is larger than 1 MB.")


def test_uploads_come_no_oftener_than_a_hand_can_give_them(guard):
    def upload(client):
        return ask(guard, SAME, method="POST", path="/upload/x/0", client=client)

    for _ in range(MOST_UPLOADS):
        assert upload("127.0.0.1")[0] == 200
    status, _, text = upload("127.0.0.1")
    assert status == 429
    assert text == f"More than {MOST_UPLOADS} files in a minute; wait a moment and go on."
    assert upload("127.0.0.2")[0] == 200
    assert upload("::1")[0] == 200
    assert upload("::ffff:127.0.0.1")[0] == 429  # the first again, in another writing


@pytest.mark.parametrize("client", ["192.168.7.9", "::ffff:192.168.7.9", "fe80::9%eth0", "unknown"])
@pytest.mark.parametrize("headers", [HERE, SAME, {"host": "192.168.7.2:8321"}])
def test_without_a_code_no_other_address_is_let_in_whatever_it_calls_us(guard, client, headers):
    status, _, text = ask(guard, headers, client=client)
    assert status == 403
    assert text == "Only this machine is let in; 'sitwell serve --lan' asks others for a code."
    assert ask(guard, SAME, kind="websocket", client=client) == "websocket.close"


@pytest.mark.parametrize(
    ("client", "server", "host"),
    [
        ("127.0.0.1", "127.0.0.1", "localhost:8321"),
        ("127.0.0.3", "127.0.0.2", "127.0.0.2:8321"),
        ("::1", "::1", "[::1]:8321"),
        ("::ffff:127.0.0.1", "::ffff:127.0.0.1", "127.0.0.1:8321"),
    ],
)
def test_this_machine_is_known_in_every_writing(guard, lan, client, server, host):
    for one in (guard, lan):
        assert ask(one, {"host": host}, client=client, server=server)[0] == 200


def test_a_meter_forgets_after_a_minute():
    meter = Meter(2)
    assert [meter.allows("a", at) for at in (0, 1, 2, 60.5)] == [True, True, False, True]


LAN = {"host": "192.168.7.2:8321"}
TABLET = "192.168.7.9"


@pytest.fixture
def shown():
    return []


@pytest.fixture
def lan(shown):
    return told(shown)


def told(shown, **how):
    passes = Passes(announce=shown.append, **how)
    passes.tell()
    return Guard(app, passes=passes)


def enter(lan, code, client=TABLET):
    headers = LAN | {"origin": "http://192.168.7.2:8321"}
    body = (f"code={code}".encode(),)
    return ask(lan, headers, method="POST", path="/enter", body=body, client=client)


def test_a_device_of_the_network_is_asked_for_the_code(lan):
    status, _, text = ask(lan, LAN, client=TABLET)
    assert status == 401
    assert "Type the code that stands on the terminal." in text
    refused = ask(lan, LAN | {"origin": "http://192.168.7.2:8321"}, kind="websocket", client=TABLET)
    assert refused == "websocket.close"


def test_the_code_opens_once_and_the_pass_stays(lan, shown):
    status, headers, _ = enter(lan, shown[0].lower())
    assert status == 303
    assert "HttpOnly" in headers["set-cookie"]
    cookie = headers["set-cookie"].split(";")[0]
    assert ask(lan, LAN | {"cookie": cookie}, client=TABLET)[0] == 200
    assert enter(lan, shown[0], client="192.168.7.10")[0] == 403
    assert len(shown) == 2


def test_guessing_is_stopped(lan, shown):
    for _ in range(MOST_TRIES):
        assert enter(lan, "AAAAAAAA")[0] == 403
    status, _, text = enter(lan, shown[0])
    assert status == 429
    assert "Too many tries; wait a minute." in text
    assert enter(lan, shown[0], client="192.168.7.10")[0] == 303


def test_a_device_with_many_addresses_guesses_as_one(lan, shown):
    for number in range(MOST_TRIES):
        assert enter(lan, "AAAAAAAA", client=f"fd00:1:2:3::{number}")[0] == 403
    assert enter(lan, shown[0], client="fd00:1:2:3:9::9")[0] == 429
    assert enter(lan, shown[0], client="fd00:1:2:4::9")[0] == 303


def test_callers_that_are_gone_are_not_counted_for_ever():
    meter = Meter(2)
    for number in range(2 * MANY_CALLERS):
        meter.allows(str(number), at=float(number))
    assert len(meter.seen) <= MANY_CALLERS + 1


def test_a_pass_ends_with_its_day_and_with_the_server(shown):
    now = [1000.0]
    lan = told(shown, clock=lambda: now[0])
    _, headers, _ = enter(lan, shown[0])
    cookie = headers["set-cookie"].split(";")[0]
    assert f"Max-Age={PASS_S:.0f}" in headers["set-cookie"]
    now[0] += PASS_S - 1.0
    assert ask(lan, LAN | {"cookie": cookie}, client=TABLET)[0] == 200
    assert ask(told([]), LAN | {"cookie": cookie}, client=TABLET)[0] == 401
    now[0] += 2.0
    assert ask(lan, LAN | {"cookie": cookie}, client=TABLET)[0] == 401
    enter(lan, shown[1])
    assert len(lan.passes.ends) == 1  # what has ended is forgotten


def test_a_websocket_is_hung_up_when_its_pass_ends(shown):
    now, sent = [1000.0], []
    lan = told(shown, clock=lambda: now[0])
    token = lan.passes.admit(shown[0])
    heard = ["websocket.connect", "websocket.receive", "websocket.receive", "websocket.receive"]

    async def receive():
        if sent and sent[-1]["type"] == "websocket.send":
            now[0] += PASS_S
        return {"type": heard.pop(0)}

    async def send(message):
        sent.append(message)

    scope = {"type": "websocket", "path": "/", "client": (TABLET, 50000),
             "server": ("192.168.7.2", 8321),
             "headers": [(b"host", b"192.168.7.2:8321"), (b"origin", b"http://192.168.7.2:8321"),
                         (b"cookie", f"sitwell_pass={token}".encode())]}  # fmt: skip
    asyncio.run(lan(scope, receive, send))
    said = [message["type"].removeprefix("websocket.") for message in sent]
    assert said == ["accept", "send", "close"]


def test_nothing_more_is_said_to_a_device_that_only_listens(shown):
    """One that answers no ping is told nothing after its pass has ended, either."""
    now, sent = [1000.0], []
    lan = told(shown, clock=lambda: now[0])
    token = lan.passes.admit(shown[0])

    async def app(scope, receive, send):
        await send({"type": "websocket.accept"})
        await send({"type": "websocket.send", "text": "in time"})
        now[0] += PASS_S
        await send({"type": "websocket.send", "text": "too late"})

    lan.app = app
    scope = {"type": "websocket", "path": "/", "client": (TABLET, 50000),
             "server": ("192.168.7.2", 8321),
             "headers": [(b"host", b"192.168.7.2:8321"), (b"origin", b"http://192.168.7.2:8321"),
                         (b"cookie", f"sitwell_pass={token}".encode())]}  # fmt: skip

    async def send(message):
        sent.append(message["type"].removeprefix("websocket."))

    asyncio.run(lan(scope, None, send))
    assert sent == ["accept", "send", "close"]


def test_this_machine_needs_no_code(lan):
    assert ask(lan, HERE)[0] == 200


@pytest.mark.parametrize(
    "header", ["x-forwarded-for", "x-real-ip", "forwarded", "x-forwarded-host", "via"]
)
def test_no_header_makes_another_device_this_machine(lan, header):
    for value in ("127.0.0.1", "for=127.0.0.1", "::1", "localhost"):
        for host in (HERE, LAN):
            assert ask(lan, host | {header: value}, client=TABLET)[0] == 401


@pytest.mark.parametrize("cookie", ["sitwell_pass=abc", "sitwell_pass=", "<=", "sitwell_pass"])
def test_a_made_up_pass_is_refused(lan, cookie):
    assert ask(lan, LAN | {"cookie": cookie}, client=TABLET)[0] == 401


def test_practice_pictures_come_no_oftener_than_a_camera_sends_them(guard):
    def picture(path="/practice/x/0"):
        return ask(guard, SAME, method="POST", path=path)

    for _ in range(MOST_PRACTICE):
        assert picture()[0] == 200
    status, _, text = picture()
    assert status == 429
    assert text.startswith(f"More than {MOST_PRACTICE} pictures in a minute; wait a moment")
    assert picture("/upload/x/0")[0] == 200  # frames are counted on their own


def test_a_practice_picture_may_not_be_large(guard):
    chunk = b"x" * (LARGEST_FORM // 2 + 1)
    answer = ask(guard, SAME, method="POST", path="/practice/x/0", body=(chunk, chunk))
    assert answer[0] == 413


def leave(inner, *heard):
    """What is answered to a browser that goes away, through layers that want an answer."""
    kinds, sent = [*heard, "http.disconnect"], []

    async def receive():
        await asyncio.sleep(0)
        return {"type": kinds.pop(0) if len(kinds) > 1 else kinds[0], "more_body": True}

    async def send(message):
        sent.append(message)

    async def on(request, call_next):
        return await call_next(request)

    guarded = GZipMiddleware(Guard(inner))
    layers = BaseHTTPMiddleware(BaseHTTPMiddleware(guarded, dispatch=on), dispatch=on)
    scope = {"type": "http", "method": "POST", "path": "/", "query_string": b"",
             "client": ("127.0.0.1", 50000), "server": ("127.0.0.1", 8321),
             "headers": [(k.encode(), v.encode()) for k, v in SAME.items()]}  # fmt: skip
    asyncio.run(layers(scope, receive, send))
    return sent


async def silent(scope, receive, send):
    """An app that stops where it hears that the browser has gone."""
    await receive()


async def halting(scope, receive, send):
    """An app that has begun to answer when it hears that the browser has gone."""
    await send({"type": "http.response.start", "status": 200, "headers": []})
    await receive()


@pytest.mark.parametrize("inner", [app, silent, halting])
@pytest.mark.parametrize("heard", [(), ("http.request",)])
def test_a_browser_that_goes_away_is_no_fault(inner, heard):
    sent = leave(inner, *heard)
    assert [message["type"] for message in sent][:1] == ["http.response.start"]
    assert not sent[-1].get("more_body", False)


def test_an_app_that_forgets_to_answer_is_still_a_fault():
    async def forgets(scope, receive, send):
        return

    with pytest.raises(RuntimeError, match="No response returned"):
        leave(forgets, "http.request")
