"""The pages asked from another machine: a code and nothing else lets it in.

The real command serves in one network namespace, and a stranger asks from another; what the
stranger writes into a request must not count, only where the request comes from.
"""

import itertools
import os
import subprocess
import sys
from importlib.metadata import version
from types import SimpleNamespace

import pytest

from tests.trust.next_door import (
    ANOTHER,
    HERE,
    HERE_6,
    PORT,
    called,
    caller,
    started,
    two_machines,
)

PORT_6 = 8326  # the server on every address of both kinds
CODE = "Code for the next device: "
SOCKET = "/_nicegui_ws/socket.io/?EIO=4&transport=websocket"
POLLING = "/_nicegui_ws/socket.io/?EIO=4&transport=polling"
UPGRADE = [
    ["connection", "Upgrade"],
    ["upgrade", "websocket"],
    ["sec-websocket-version", "13"],
    ["sec-websocket-key", "aW52ZW50ZWQgZm9yIHVzIQ=="],
]


@pytest.fixture(scope="module")
def machines():
    with two_machines() as both:
        yield both


@pytest.fixture(scope="module")
def stranger(machines):
    with caller(machines[1]) as asking:
        yield asking


@pytest.fixture(scope="module")
def photographer(machines):
    with caller(machines[0]) as asking:
        yield asking


@pytest.fixture(scope="module")
def serve(machines, tmp_path_factory):
    """Serve with some options until the block ends.

    The server is told to trust every proxy, as an environment may have it: it must not.
    """
    home = {"SITWELL_HOME": str(tmp_path_factory.mktemp("served"))}
    # marks of a test run must not reach a real server
    clean = {k: v for k, v in os.environ.items() if not k.startswith(("NICEGUI", "PYTEST"))}
    trusting = clean | home | {"FORWARDED_ALLOW_IPS": "*", "PYTHONUNBUFFERED": "1"}

    def begin(*options):
        command = [sys.executable, "-m", "sitwell", "serve", "--no-show", *options]
        return started(*machines[0].run(*command), env=trusting, stderr=subprocess.PIPE)

    return begin


def until_code(process):
    """What a server prints up to its code, and the code."""
    lines = []
    for line in process.stdout:
        lines.append(line.strip())
        if line.startswith(CODE):
            return lines, line.removeprefix(CODE).strip()
    pytest.fail(f"it ended without a code: {lines} {process.stderr.read()}")


@pytest.fixture(scope="module")
def open_house(serve):
    """A server on every address of both kinds; gives what it printed."""
    with serve("--lan", "--host", "::", "--port", str(PORT_6)) as process:
        lines, code = until_code(process)
        codes = [code]

        def next_code():
            codes.append(until_code(process)[1])

        yield SimpleNamespace(lines=lines, codes=codes, next_code=next_code)


def enter(asking, code, host=HERE, port=PORT, headers=(), **more):
    headers = [["origin", f"http://{called(host, port)}"], *headers]
    body = f"code={code}"
    return asking(host, "/enter", method="POST", port=port, body=body, headers=headers, **more)


def pass_of(answer):
    return ["cookie", answer[1]["set-cookie"].partition(";")[0]]


FORGED = [
    [],
    [["x-forwarded-for", "127.0.0.1"]],
    [["x-forwarded-for", "::1"], ["x-real-ip", "127.0.0.1"], ["forwarded", "for=127.0.0.1"]],
    [["x-forwarded-host", called("127.0.0.1", PORT_6)], ["x-forwarded-proto", "https"]],
    [["cookie", "sitwell_pass=127.0.0.1"]],
]
PATHS = ["/", "/s/000000000000/talk", "/assets/pages.css", "/frame/000000000000/00000000",
         "/drawn/000000000000/a.pdf", "/brief/000000000000", "/seen/000000000000/0/a",
         "/favicon.ico", POLLING,
         f"/_nicegui/{version('nicegui')}/static/nicegui.css", "http://127.0.0.1/", "//", "/enter",
         "/enter/../"]  # fmt: skip
WRITTEN = [
    "/upload/records",
    "/upload/brief",
    "/upload/000000000000/0?name=a.jpg",
    "/practice/000000000000/0",
]


@pytest.mark.parametrize("options", [("--host", "0.0.0.0"), ("--host", "::"), ("--host", HERE)])
def test_no_option_opens_an_address_of_the_network_without_a_code(serve, options):
    with serve(*options) as process:
        line = process.stdout.readline()  # "" once it has ended, or that it is open
        assert line == ""
        assert process.wait() == 2
        assert process.stderr.read() == (
            f"'{options[1]}' can be reached from other devices; add --lan, which asks each for a "
            "code, or leave --host out.\n"
        )


@pytest.mark.parametrize("host", [HERE, HERE_6])
def test_no_disguise_lets_a_stranger_in(open_house, stranger, host):
    let_in = []
    ours = called(host, PORT_6)
    names = [ours, *(called(name, PORT_6) for name in ("127.0.0.1", "localhost", "::1")), "a.b", ""]
    for name, forged in itertools.product(names, FORGED):
        same = [*forged, ["origin", f"http://{name}"]]
        asked = [(path, "GET", forged) for path in PATHS]
        asked += [(path, "POST", same) for path in WRITTEN]
        asked += [(SOCKET, "GET", [*same, *UPGRADE])]
        for path, method, headers in asked:
            told = stranger(host, path, name, port=PORT_6, method=method, headers=headers)
            if told[0] not in (401, 403):
                let_in.append((name, path, headers, told[0]))
    assert let_in == []
    assert stranger(host, port=PORT_6)[0] == 401  # without a disguise: the door


def test_this_machine_needs_no_code_whichever_kind_of_address_it_takes(open_house, photographer):
    assert open_house.lines[0] == f"Sitwell is open at http://127.0.0.1:{PORT_6}"
    assert [photographer(host, port=PORT_6)[0] for host in ("127.0.0.1", "::1")] == [200, 200]
    assert photographer(HERE, port=PORT_6)[0] == 401  # called as others call it


@pytest.mark.parametrize("host", [HERE, HERE_6])
def test_the_code_opens_everything_once(open_house, stranger, host):
    code = open_house.codes[-1]
    given = enter(stranger, code, host, PORT_6)
    open_house.next_code()
    assert given[0] == 303
    assert stranger(host, port=PORT_6, headers=[pass_of(given)])[0] == 200
    line = [pass_of(given), ["origin", f"http://{called(host, PORT_6)}"], *UPGRADE]
    assert stranger(host, SOCKET, port=PORT_6, headers=line)[0] == 101
    assert enter(stranger, code, host, PORT_6)[0] == 403


def test_a_stranger_cannot_guess_long(open_house, stranger, photographer):
    guess = {"port": PORT_6, "source": ANOTHER}
    assert [enter(stranger, "A" * 8, **guess)[0] for _ in range(7)] == [403] * 5 + [429] * 2
    code = open_house.codes[-1]
    assert enter(stranger, code, **guess)[0] == 429
    assert enter(stranger, code, headers=[["x-forwarded-for", "10.77.0.9"]], **guess)[0] == 429
    assert photographer("127.0.0.1", port=PORT_6)[0] == 200


def test_an_old_pass_opens_nothing_after_a_restart(serve, stranger, photographer):
    with serve("--lan", "--host", HERE) as process:
        lines, code = until_code(process)
        assert lines == [f"Sitwell is open at http://{called(HERE)}", f"{CODE}{code}"]
        old = pass_of(enter(stranger, code))
        assert stranger(HERE, headers=[old])[0] == 200
        assert photographer(HERE)[0] == 401
    with serve("--lan") as process:
        _, fresh = until_code(process)
        assert fresh != code
        assert stranger(HERE, headers=[old])[0] == 401
        line = [old, ["origin", f"http://{called(HERE)}"], *UPGRADE]
        assert stranger(HERE, SOCKET, headers=line)[0] == 403


def test_a_port_in_use_is_said_and_nothing_is_said_to_be_open(serve, machines):
    taken = "import socket; held = socket.create_server(('', 8321)); print('held'); input()"
    with started(*machines[0].run(sys.executable, "-uc", taken), stdin=subprocess.PIPE) as holder:
        assert holder.stdout.readline() == "held\n"
        with serve("--lan") as process:
            assert process.stdout.read() == ""
            assert process.wait() == 1
            assert process.stderr.read() == (
                "Port 8321 is in use; close what holds it, or choose another with --port.\n"
            )
