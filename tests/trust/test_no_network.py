"""The main job asks nothing of any network: not our code, and not the compiled libraries.

In a network namespace without a route every attempt fails at once, and the kernel counts it
(``OutNoRoutes`` and its neighbours in /proc/net/snmp), whichever language made it. That matters,
because compiled libraries are not ours to read.
"""

import json
import shutil
import subprocess
import sys

import pytest

COUNTED = {
    "Ip": ("OutRequests", "OutNoRoutes"),
    "Tcp": ("ActiveOpens",),
    "Udp": ("OutDatagrams",),
}
ATTEMPTS = (
    "import socket\n"
    "try: socket.create_connection(('192.0.2.1', 443), timeout=2)\n"
    "except OSError: pass\n"
)
# An audit hook can't be taken away again, so it lives in a process of its own.
WATCHED = """
import sys

def refuse(event, values):
    if event in ("socket.connect", "socket.getaddrinfo", "socket.gethostbyname",
                 "socket.sendto", "socket.sendmsg", "urllib.Request"):
        raise SystemExit(f"asked the network: {event} {values}")

sys.addaudithook(refuse)
"""
CLI = "from sitwell.ui.cli import main; main()"


def in_cut_off(*commands, environment):
    """Run commands where there is no route; gives their results and what the kernel counted."""
    cut_off = ["unshare", "--map-root-user", "--net"]
    if shutil.which("unshare") is None:
        pytest.skip("there is no unshare on this system")
    tried = subprocess.run([*cut_off, "true"], capture_output=True, check=False)
    if tried.returncode:
        pytest.skip(f"the kernel forbids a network namespace: {tried.stderr.decode().strip()}")
    # The last command prints the namespace's own counters; they start at nought.
    script = (
        "import json, subprocess, sys\n"
        "done = [subprocess.run(c, capture_output=True, text=True) for c in json.load(sys.stdin)]\n"
        "print(json.dumps([[[d.returncode, d.stdout, d.stderr] for d in done],"
        " open('/proc/net/snmp').read()]))\n"
    )
    ran = subprocess.run(
        [*cut_off, sys.executable, "-c", script],
        input=json.dumps([list(map(str, command)) for command in commands]),
        capture_output=True,
        text=True,
        env=environment,
        check=True,
    )
    results, table = json.loads(ran.stdout)
    return results, counted(table)


def counted(table):
    """The counters of COUNTED from /proc/net/snmp: a line of names, then a line of numbers."""
    lines = table.splitlines()
    found = {}
    for names, numbers in zip(lines[::2], lines[1::2], strict=True):
        protocol, *names = names.split()
        for name in COUNTED.get(protocol.rstrip(":"), ()):
            found[name] = int(dict(zip(names, numbers.split()[1:], strict=True))[name])
    return found


def test_an_attempt_to_reach_the_network_is_counted(environment):
    """Without this the next test could not fail."""
    _, attempts = in_cut_off([sys.executable, "-c", ATTEMPTS], environment=environment)
    assert set(attempts) == {name for names in COUNTED.values() for name in names}
    assert sum(attempts.values()) > 0


@pytest.mark.slow
def test_the_main_job_works_cut_off_and_no_library_tries_the_network(
    photograph, tmp_path, environment
):
    sitwell = [sys.executable, "-m", "sitwell"]
    out = tmp_path / "out"
    results, attempts = in_cut_off(
        [*sitwell, "plan", photograph, "--wish", "ears", "--out", out, "--json"],
        [*sitwell, "sort", photograph.parent, "--plan", out / "plan.json", "--json"],
        environment=environment,
    )
    for code, _, errors in results:
        assert code == 0, errors
    names = [setup["name"] for setup in json.loads(results[0][1])["setups"]]
    assert names
    assert all((out / f"{name}.pdf").read_bytes().startswith(b"%PDF-") for name in names)
    assert attempts == dict.fromkeys(attempts, 0)


def watched(code, *arguments, environment):
    return subprocess.run(
        [sys.executable, "-c", WATCHED + code, *map(str, arguments)],
        capture_output=True,
        text=True,
        env=environment,
        check=False,
    )


def test_the_watch_on_python_sees_an_attempt(environment):
    done = watched(ATTEMPTS, environment=environment)
    assert "asked the network: socket.getaddrinfo" in done.stderr


def test_our_own_code_asks_nothing_of_a_network(photograph, tmp_path, environment):
    done = watched(CLI, "read", photograph, "--json", environment=environment)
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["frames"][0]["faces"] == 1
