"""Passes for one page: a code that a phone reads from the screen, and what it opens."""

import pytest

from sitwell.ui.web.passes import PHONE_S, SCANNED_S, OnePage, Passes
from sitwell.ui.web.security import DOOR, Guard
from tests.ui.web.test_security import app, ask

SET = OnePage(address="/s/0123/set", parts=("/assets/", "/_nicegui_ws/", "/seen/0123/"))
PHONE = {"client": "192.168.7.9", "server": "192.168.7.2"}
HOST = {"host": "192.168.7.2:8321", "origin": "http://192.168.7.2:8321"}


class Clock:
    now = 1000.0

    def __call__(self):
        return self.now


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def passes(clock):
    return Passes(announce=lambda code: None, clock=clock)


@pytest.fixture
def guard(passes):
    return Guard(app, passes=passes)


def scan(guard, code, cookie=""):
    """What a phone is answered that opens the scanned address."""
    headers = {**HOST, **({"cookie": cookie} if cookie else {})}
    return ask(guard, headers, path=DOOR, query=f"code={code}", **PHONE)


def enter(guard, code):
    return ask(guard, HOST, path=DOOR, method="POST", body=(f"code={code}".encode(),), **PHONE)


def cookie_of(answer):
    return {**HOST, "cookie": answer[1]["set-cookie"].partition(";")[0]}


def test_a_scanned_code_opens_its_page_and_nothing_else(guard, passes):
    code = passes.invite(SET)
    assert "one page" in scan(guard, code)[2]
    entered = enter(guard, code)
    assert (entered[0], entered[1]["location"]) == (303, SET.address)
    mine = cookie_of(entered)
    for path in (SET.address, "/assets/pages.css", "/seen/0123/0/in-hand"):
        assert ask(guard, mine, path=path, **PHONE)[0] == 200
    for path in ("/", "/s/0123/talk", "/s/0123/sett", "/s/4567/set", "/frame/0123/9", "/brief/0123",
                 "/seen/4567/0/in-hand", "/practice/0123/0"):  # fmt: skip
        assert ask(guard, mine, path=path, **PHONE)[0] == 401, path
    assert ask(guard, mine, kind="websocket", path="/_nicegui_ws/socket.io/", **PHONE) == (
        "websocket.accept"
    )


def test_a_scanned_code_serves_once_and_not_for_long(guard, passes, clock):
    code = passes.invite(SET)
    assert enter(guard, code)[0] == 303
    assert enter(guard, code)[0] == 403
    late = passes.invite(SET)
    clock.now += SCANNED_S + 1
    assert "two minutes are over" in scan(guard, late)[2]
    assert enter(guard, late)[0] == 403


def test_looking_at_the_door_uses_no_code_up(guard, passes):
    code = passes.invite(SET)
    for _ in range(3):
        assert scan(guard, code)[0] == 200
    assert enter(guard, code)[0] == 303


def test_the_pass_for_one_page_ends(guard, passes, clock):
    mine = cookie_of(enter(guard, passes.invite(SET)))
    clock.now += PHONE_S + 1
    assert ask(guard, mine, path=SET.address, **PHONE)[0] == 401


def test_a_device_that_may_see_all_keeps_its_pass(guard, passes):
    full = cookie_of(enter(guard, passes.code))
    answer = scan(guard, code := passes.invite(SET), full["cookie"])
    assert (answer[0], answer[1]["location"]) == (303, SET.address)
    assert "set-cookie" not in answer[1]
    assert passes.invited_to(code) == SET  # nothing was used up


def test_guessed_codes_are_counted_like_typed_ones(guard, passes):
    for _ in range(5):
        assert enter(guard, "guessed")[0] == 403
    assert enter(guard, passes.invite(SET))[0] == 429


def test_the_pages_are_told_who_sees_one_alone(passes):
    told = []

    async def page(scope, receive, send):
        told.append(scope["sitwell_one_page"])
        await app(scope, receive, send)

    guard = Guard(page, passes=passes)
    ask(guard, cookie_of(enter(guard, passes.invite(SET))), path=SET.address, **PHONE)
    ask(guard, cookie_of(enter(guard, passes.code)), path=SET.address, **PHONE)
    ask(guard, {"host": "127.0.0.1"}, path=SET.address)
    assert told == [True, False, False]


def test_codes_that_nobody_reads_are_forgotten(passes):
    first = passes.invite(SET)
    for _ in range(20):
        passes.invite(SET)
    assert passes.invited_to(first) is None


def test_the_door_speaks_the_browser_s_language(guard):
    headers = {**HOST, "accept-language": "de-DE"}
    text = ask(guard, headers, path="/", **PHONE)[2]
    assert "<html lang=de>" in text
    assert "Terminal" in text
    assert "Type the code" not in text
