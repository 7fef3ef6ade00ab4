"""Where the pages listen: what is bound decides, and what can't be is said before they open."""

import socket
from contextlib import closing

import pytest

from sitwell.base.errors import UsageError, WebError
from sitwell.ui.web.listening import addresses, is_this_machine, open_socket, plain_address


@pytest.mark.parametrize(
    "text", ["127.0.0.1", "127.8.8.8", "::1", "::ffff:127.0.0.1", "::FFFF:7f00:1"]
)
def test_these_lead_to_this_machine_alone(text):
    assert is_this_machine(text)


@pytest.mark.parametrize(
    "text",
    ["0.0.0.0", "::", "::ffff:0.0.0.0", "192.168.7.2", "::ffff:192.168.7.2", "fe80::1%lo", "",
     "localhost", "127.0.0.1.evil.example", "128.0.0.1", "127.0.0.1:80", "0127.0.0.1"],
)  # fmt: skip
def test_these_do_not(text):
    assert not is_this_machine(text)


def test_a_zone_and_a_mapping_are_taken_off():
    assert str(plain_address("fe80::1%eth0")) == "fe80::1"
    assert str(plain_address("::ffff:10.0.0.9")) == "10.0.0.9"
    assert plain_address("ten") is None


def test_left_out_it_is_this_machine():
    with closing(open_socket("", 0, lan=False)) as listener:
        host, port = listener.getsockname()
        assert host == "127.0.0.1"
        assert addresses(listener) == (f"http://127.0.0.1:{port}", "")


def test_with_lan_it_is_every_address():
    with closing(open_socket("", 0, lan=True)) as listener:
        host, port = listener.getsockname()
        assert host == "0.0.0.0"
        own, network = addresses(listener)
        assert own == f"http://127.0.0.1:{port}"
        assert network.endswith(f":{port}")


# "0" and its like are other writings of 0.0.0.0; the last two are every address in IPv6
@pytest.mark.parametrize("host", ["0.0.0.0", "0", "0.0", "0x0", "::", "::ffff:0.0.0.0"])
def test_what_others_reach_is_refused_without_lan(host):
    with pytest.raises(UsageError) as refused:
        open_socket(host, 8321, lan=False)
    assert str(refused.value) == (
        f"'{host}' can be reached from other devices; add --lan, which asks each for a code, or "
        "leave --host out."
    )


@pytest.mark.parametrize("host", ["127.0.0.1", "127.0.0.2", "127.1"])
def test_what_nobody_reaches_is_refused_with_lan(host):
    with pytest.raises(UsageError) as refused:
        open_socket(host, 8321, lan=True)
    assert str(refused.value) == f"'{host}' can't be reached from other devices; leave --host out."


@pytest.mark.parametrize("host", ["nobody.invalid", "127.0.0.300", "a" * 300, " ", "[::1]", "é.é"])
def test_what_is_no_address_is_refused(host):
    with pytest.raises(UsageError) as refused:
        open_socket(host, 8321, lan=False)
    assert str(refused.value) == (
        f"'{host}' is no address of this machine; leave --host out, or give one."
    )


def test_an_address_of_another_machine_is_refused():
    with pytest.raises(UsageError, match=r"'192\.0\.2\.77' is no address of this machine"):
        open_socket("192.0.2.77", 8321, lan=True)  # RFC 5737: nobody's


@pytest.mark.parametrize("lan", [False, True])
def test_a_port_in_use_is_said(lan):
    with closing(socket.create_server(("127.0.0.1", 0))) as other:
        port = other.getsockname()[1]
        with pytest.raises(WebError) as refused:
            open_socket("", port, lan=lan)
    assert str(refused.value) == (
        f"Port {port} is in use; close what holds it, or choose another with --port."
    )


def test_a_port_of_the_system_is_said(monkeypatch):
    def forbid(*_, **__):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(socket, "create_server", forbid)
    with pytest.raises(UsageError) as refused:
        open_socket("", 80, lan=False)
    assert str(refused.value) == (
        "Port 80 is the system's own; choose one from 1024 on with --port."
    )


@pytest.fixture
def ipv6():
    try:
        socket.create_server(("::1", 0), family=socket.AF_INET6).close()
    except OSError as error:
        pytest.skip(f"there is no IPv6 here: {error}")


@pytest.mark.usefixtures("ipv6")
def test_ipv6_listens_to_this_machine_or_to_both_kinds():
    with closing(open_socket("::1", 0, lan=False)) as listener:
        port = listener.getsockname()[1]
        assert addresses(listener) == (f"http://[::1]:{port}", "")
    with closing(open_socket("::", 0, lan=True)) as listener:
        port = listener.getsockname()[1]
        assert addresses(listener)[0] == f"http://127.0.0.1:{port}"
        with closing(socket.create_connection(("127.0.0.1", port))):
            line, (caller, *_) = listener.accept()
            line.close()
        assert caller == "::ffff:127.0.0.1"
        assert is_this_machine(caller)


def test_a_certificate_without_other_devices_is_refused():
    from typer.testing import CliRunner

    from sitwell.ui.cli import app

    done = CliRunner().invoke(app, ["serve", "--certificate"])
    assert str(done.exception) == (
        "--certificate is for other devices; add --lan, or leave it out."
    )
