"""Two machines on one cable, as network namespaces: one serves, the other tries to get in.

They live as long as their processes and nothing of them stays on the system.
"""

import json
import shutil
import subprocess
import sys
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass

import pytest

PORT = 8321  # nobody else's: the machines have their own
HERE, HERE_6 = "10.77.0.1", "fd77::1"
THERE, THERE_6 = "10.77.0.2", "fd77::2"
ANOTHER = "10.77.0.3"  # also next door
# Asks one question after another, each on a line of its own, by a connection of its own.
ASK = """
import http.client, json, socket, sys
from contextlib import closing

def answer(host, port, path="/", method="GET", headers=(), body="", source=None):
    source = (source, 0) if source else None
    with closing(http.client.HTTPConnection(host, port, source_address=source)) as line:
        line.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
        for name, value in headers:
            line.putheader(name, value)
        if body:
            line.putheader("content-length", str(len(body)))
        line.endheaders(body.encode())
        with line.getresponse() as told:
            text = "" if told.status == 101 else told.read().decode("utf-8", "replace")
            return [told.status, dict(told.getheaders()), text]

for row in sys.stdin:
    try:
        told = answer(**json.loads(row))
    except (OSError, http.client.HTTPException) as error:
        told = [0, {}, str(error)]
    print(json.dumps(told), flush=True)
"""


@dataclass(frozen=True)
class Machine:
    """A network namespace, by the process that holds it."""

    holder: subprocess.Popen

    def run(self, *command):
        """The command line that runs a command on this machine."""
        held = str(self.holder.pid)
        return ["nsenter", "--user", "--net", "--preserve-credentials", "-t", held, *command]


def called(host, port=PORT):
    """A host and a port as a browser writes them."""
    return f"[{host}]:{port}" if ":" in host else f"{host}:{port}"


@dataclass(frozen=True)
class Caller:
    """Asks the served pages from a machine."""

    asking: subprocess.Popen

    def __call__(self, host, path="/", name=None, port=PORT, headers=(), **more):
        """Status, headers and text of the answer; ``name`` is what the Host header calls it."""
        named = ["host", called(host, port) if name is None else name]
        row = {"host": host, "port": port, "path": path, "headers": [named, *headers], **more}
        self.asking.stdin.write(json.dumps(row) + "\n")
        self.asking.stdin.flush()
        return json.loads(self.asking.stdout.readline())


@contextmanager
def started(*command, **more):
    """A process with its output at hand, ended with the block."""
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, **more)
    with process:
        try:
            yield process
        finally:
            process.kill()


@contextmanager
def two_machines():
    """This machine and the one next door; the test is skipped where they can't be made."""
    for tool in ("unshare", "nsenter", "ip"):
        if shutil.which(tool) is None:
            pytest.skip(f"there is no {tool} on this system to make network namespaces with")
    with ExitStack() as stack:
        machines = []
        for _ in range(2):
            around = machines[0].run() if machines else []
            apart = ["unshare", "--net"] if machines else ["unshare", "--map-root-user", "--net"]
            hold = ["sh", "-c", "echo there; exec cat"]
            held = stack.enter_context(started(*around, *apart, *hold, stdin=subprocess.PIPE))
            if held.stdout.readline() != "there\n":
                pytest.skip("the kernel forbids network namespaces here")
            machines.append(Machine(held))
        here, there = machines
        _join(here, there)
        yield here, there


def _join(here, there):
    other = str(there.holder.pid)
    ip(here, "link", "add", "cable", "type", "veth", "peer", "name", "cable", "netns", other)
    for machine, addresses in ((here, (HERE, HERE_6)), (there, (THERE, THERE_6))):
        ip(machine, "link", "set", "lo", "up")
        ip(machine, "link", "set", "cable", "up")
        ip(machine, "address", "add", f"{addresses[0]}/24", "dev", "cable")
        ip(machine, "address", "add", f"{addresses[1]}/64", "dev", "cable", "nodad")
    ip(there, "address", "add", f"{ANOTHER}/24", "dev", "cable")


def ip(machine, *words):
    done = subprocess.run(machine.run("ip", *words), capture_output=True, text=True, check=False)
    if done.returncode:
        pytest.skip(f"the kernel forbids a cable between namespaces: {done.stderr.strip()}")


@contextmanager
def caller(machine):
    """Somebody who asks from a machine."""
    command = machine.run(sys.executable, "-c", ASK)
    with started(*command, stdin=subprocess.PIPE) as asking:
        yield Caller(asking)
