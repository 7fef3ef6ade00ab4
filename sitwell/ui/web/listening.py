"""Where the pages listen: an address that is bound before anything is said of it.

Whether a code is asked hangs on what was bound and on who calls, never on an option or a header.
"""

import errno
import socket
from ipaddress import IPv4Address, IPv6Address, ip_address

from sitwell.base.errors import UsageError, WebError
from sitwell.base.words import tr

THIS_MACHINE, EVERY_ADDRESS = "127.0.0.1", "0.0.0.0"
NOWHERE = ("192.0.2.1", 9)  # RFC 5737: an address that documents use and no network has


def plain_address(text: str) -> IPv4Address | IPv6Address | None:
    """An address without its zone, and one mapped into IPv6 as what it is; None where it is none.

    A dual socket tells of 192.168.7.9 as ::ffff:192.168.7.9, and of a link's own as fe80::1%eth0.
    """
    try:
        found = ip_address(text.partition("%")[0])
    except ValueError:
        return None
    return found.ipv4_mapped or found if isinstance(found, IPv6Address) else found


def is_this_machine(text: str) -> bool:
    """Whether an address leads to this machine and nowhere else."""
    found = plain_address(text)
    return found is not None and found.is_loopback


def open_socket(host: str, port: int, *, lan: bool) -> socket.socket:
    """A socket that listens on ``host``; "" is this machine, or with ``lan`` its every address.

    Raises UsageError for an address that is not this machine's, for one that others can reach
    without ``lan``, and for one that they can't with it; WebError for a port in use.
    """
    host = host or (EVERY_ADDRESS if lan else THIS_MACHINE)
    try:
        found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE)
    except (OSError, UnicodeError) as error:
        raise _not_ours(host) from error
    family, *_, address = found[0]
    if is_this_machine(str(address[0])) == lan:
        raise UsageError(
            tr("'{host}' can't be reached from other devices; leave --host out.", host=host)
            if lan
            else tr(
                "'{host}' can be reached from other devices; add --lan, which asks each for a "
                "code, or leave --host out.",
                host=host,
            )
        )
    both = family == socket.AF_INET6 and _is_every(str(address[0])) and socket.has_dualstack_ipv6()
    try:
        return socket.create_server(address, family=family, dualstack_ipv6=both)
    except PermissionError as error:
        raise UsageError(
            tr("Port {port} is the system's own; choose one from 1024 on with --port.", port=port)
        ) from error
    except OSError as error:
        if error.errno != errno.EADDRINUSE:
            raise _not_ours(host) from error
        raise WebError(
            tr(
                "Port {port} is in use; close what holds it, or choose another with --port.",
                port=port,
            )
        ) from error


def open_encrypted(host: str, port: int) -> socket.socket:
    """A socket for the network alone, at one address, since a certificate is for one.

    Raises UsageError and WebError as ``open_socket`` does.
    """
    return open_socket(host if host and not _is_every(host) else called(), port, lan=True)


def addresses(listener: socket.socket) -> tuple[str, str]:
    """Where the pages are found from this machine, and from the network ("" if nowhere else)."""
    host, port = listener.getsockname()[:2]
    if not _is_every(host):
        own = _url(host, port)
        return own, "" if is_this_machine(host) else own
    return _url(THIS_MACHINE if _hears_ipv4(listener) else "::1", port), _url(called(), port)


def encrypted_address(listener: socket.socket) -> str:
    """Where the network finds pages that ``open_encrypted`` listens for."""
    host, port = listener.getsockname()[:2]
    return _url(host, port, "https")


def _url(host: str, port: int, scheme: str = "http") -> str:
    return f"{scheme}://[{host}]:{port}" if ":" in host else f"{scheme}://{host}:{port}"


def _is_every(host: str) -> bool:
    found = plain_address(host)
    return found is not None and found.is_unspecified


def _hears_ipv4(listener: socket.socket) -> bool:
    if listener.family == socket.AF_INET:
        return True
    return not listener.getsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY)


def called() -> str:
    """This machine as its network calls it."""
    # connecting a datagram socket sends nothing; it only asks which address would be used
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(NOWHERE)
            return str(probe.getsockname()[0])
        except OSError:
            return socket.gethostname()


def _not_ours(host: str) -> UsageError:
    return UsageError(
        tr("'{host}' is no address of this machine; leave --host out, or give one.", host=host)
    )
