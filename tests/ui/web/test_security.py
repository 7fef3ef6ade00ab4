"""The guard lets the photographer in and nobody else; each rule is tripped once."""

import asyncio

import pytest
from starlette.middleware.base import BaseHTTPMiddleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import ClientDisconnect

from sitwell.ui.web.security import (
    LARGEST_BODY,
    LARGEST_FORM,
    MOST_PRACTICE,
    MOST_TRIES,
    MOST_UPLOADS,
    Guard,
    Meter,
    Passes,
)

HERE = {"host": "127.0.0.1:8321"}
SAME = HERE | {"origin": "http://127.0.0.1:8321"}


async def app(scope, receive, send):
    """An app behind the guard: reads its body and says how much it got."""
    if scope["type"] == "websocket":
        await send({"type": "websocket.accept"})
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


def ask(guard, headers, *, kind="http", method="GET", path="/", body=(b"",), client="127.0.0.1"):
    """Status (or websocket message kind), headers and text of the answer."""
    parts = [{"type": "http.request", "body": b, "more_body": True} for b in body]
    parts[-1]["more_body"] = False
    sent = []

    async def receive():
        return parts.pop(0) if kind == "http" else {"type": "websocket.connect"}

    async def send(message):
        sent.append(message)

    scope = {
        "type": kind,
        "method": method,
        "path": path,
        "client": (client, 50000),
        "server": ("192.168.7.2", 8321),
        "headers": [(k.encode(), v.encode()) for k, v in headers.items()],
    }
    asyncio.run(guard(scope, receive, send))
    if kind == "websocket":
        return sent[-1]["type"]
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


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1.evil.example", "", "192.168.7.2:8321"])
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
    return Guard(app, passes=Passes(announce=shown.append))


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
    assert enter(lan, shown[0])[0] == 403


def test_this_machine_needs_no_code(lan):
    assert ask(lan, HERE)[0] == 200


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
