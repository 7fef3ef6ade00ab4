"""The pages' routes and their guard under made-up requests: refused in words, never a failure.

``tests/ui/web`` trips each rule once; here hypothesis looks for requests that slip past them.
"""

import asyncio
from types import SimpleNamespace

import httpx
import pytest
from fastapi import FastAPI
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from sitwell.ui.web.documents import Shelf
from sitwell.ui.web.passes import Passes
from sitwell.ui.web.security import Guard
from sitwell.ui.web.uploads import add_files

SECRET = b"%PDF-secret"
FAST = settings(
    deadline=None, max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture]
)


@pytest.fixture
def shop(tmp_path):
    """The routes over a shelf with one sitting, and a secret beside the shelf."""
    (tmp_path / "secret.pdf").write_bytes(SECRET)
    (tmp_path / "secret.view.jpg").write_bytes(SECRET)
    shelf = Shelf(tmp_path / "papers")
    sitting = shelf.new()
    sitting.sitter.consent_at = "2026-03-14T10:15:00+00:00"
    app = FastAPI()
    add_files(app, SimpleNamespace(shelf=shelf))

    def ask(method, path, content=b""):
        async def once():
            transport = httpx.ASGITransport(app=app)
            async with httpx.AsyncClient(transport=transport, base_url="http://test") as client:
                return await client.request(method, path, content=content)

        return asyncio.run(once())

    return SimpleNamespace(ask=ask, id=sitting.id, folder=tmp_path)


PIECES = st.sampled_from(
    [
        *("..", "%2e%2e", "%2F", "%5c", "\\", ".", "secret", "secret.pdf", "sitting.json", "%00"),
        *("con", "/", "//", "a" * 300, "%ff", "é", "~", "*", "-1", "9" * 40, "{id}", "0123abcd"),
    ]
)
ROUTES = st.sampled_from(("/frame/", "/drawn/", "/seen/", "/upload/"))


@FAST
@given(
    method=st.sampled_from(("GET", "POST", "PUT", "DELETE")),
    route=ROUTES,
    within=st.booleans(),
    pieces=st.lists(PIECES, min_size=1, max_size=6),
    glue=st.sampled_from(("", "/", "%2F")),
)
def test_no_path_leads_out_of_a_sittings_folder(shop, method, route, within, pieces, glue):
    start = route + (shop.id + "/" if within else "")
    answer = shop.ask(method, start + glue.join(pieces).replace("{id}", shop.id))
    assert 300 <= answer.status_code < 500
    assert SECRET not in answer.content
    assert b"consent" not in answer.content


@FAST
@given(name=st.text(max_size=60), content=st.binary(max_size=200))
@example(name="../../../a.jpg", content=b"\xff\xd8\xff")
@example(name="a.jpg\0.exe", content=b"\xff\xd8\xff")
@example(name="\ud800.jpg", content=b"\xff\xd8\xff")
def test_what_is_uploaded_under_any_name_stays_in_its_folder_or_away(shop, name, content):
    before = {path for path in shop.folder.rglob("*") if path.is_file()}
    quoted = httpx.QueryParams({"name": name.encode("utf-8", "replace").decode()})
    answer = shop.ask("POST", f"/upload/{shop.id}/0?{quoted}", content)
    assert answer.status_code == 422
    assert answer.json()["trouble"].endswith(".")
    assert {path for path in shop.folder.rglob("*") if path.is_file()} == before


async def behind(scope, receive, send):
    """What the guard protects."""
    await send({"type": "http.response.start", "status": 200, "headers": []})
    await send({"type": "http.response.body", "body": b"inside"})


def status(headers, client="127.0.0.1", method="GET", passes=None):
    sent = []

    async def receive():
        return {"type": "http.request", "body": b"", "more_body": False}

    async def send(message):
        sent.append(message)

    scope = {
        "type": "http",
        "method": method,
        "path": "/",
        "client": (client, 50000),
        "server": ("192.168.7.2", 8321),
        "headers": [(k.encode(), v.encode("latin-1")) for k, v in headers.items()],
    }
    asyncio.run(Guard(behind, passes=passes)(scope, receive, send))
    return sent[0]["status"]


VALUES = st.text(st.characters(min_codepoint=32, max_codepoint=255), max_size=40)
HOSTS = VALUES | st.sampled_from(
    [
        *("[", "[::1", "[::1]:8321", "127.0.0.1:x", "LocalHost:80", "localhost.evil.example"),
        *("127.0.0.1@evil.example", "evil.example#127.0.0.1", "evil.example/127.0.0.1"),
        *("127.0.0.1.", "0x7f000001", "localhost/evil.example", "localhost?", "http://["),
    ]
)


@FAST
@given(host=HOSTS)
def test_only_this_machines_names_are_let_in(host):
    name, _, port = host.lower().rpartition(":")
    ours = {"127.0.0.1", "localhost", "[::1]"}
    is_ours = host.lower() in ours or (name in ours and port.isdecimal() and len(port) < 6)
    assert status({"host": host}) == (200 if is_ours else 403)


@FAST
@given(origin=HOSTS, method=st.sampled_from(("GET", "POST")))
def test_no_other_origin_is_let_in(origin, method):
    assert status({"host": "localhost:8321", "origin": origin}, method=method) == 403


@FAST
@given(cookie=VALUES | st.sampled_from(("sitwell_pass=", "a b=c;=", "sitwell_pass=\xff", "$x=1")))
def test_no_made_up_pass_opens_the_door(cookie):
    headers = {"host": "192.168.7.2:8321", "cookie": cookie}
    passes = Passes(announce=lambda code: None)
    assert status(headers, client="192.168.7.9", passes=passes) == 401
