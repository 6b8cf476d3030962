"""Calling a stranger's server: at an address of the public internet, the very one that was checked, and nowhere else.

A name may lead into the network that the service stands in, or do so the second time it is looked up, or an answer may
send the caller on to such a place. So the name is looked up once, every address that it has must be public (IANA's
special-purpose address registries, RFC 6890, as `ipaddress` knows them), the connection goes to the address that was
looked at, and no redirect is followed.
"""

from __future__ import annotations

import http.client
import ipaddress
import socket
import ssl
import threading
from collections.abc import Callable, Mapping
from contextlib import suppress
from urllib.parse import SplitResult, urlsplit

_WAIT_SECONDS = 10.0
_MOST_SECONDS = 20.0  # for the whole call, however slowly the other side answers
_IPV4_IN_IPV6 = tuple(ipaddress.ip_network(one) for one in ("64:ff9b::/96", "64:ff9b:1::/48"))


class NotCalled(Exception):  # noqa: N818 (the receiver's matter)
    """A server was not called, or did not answer; the message is a few words."""


def usable_address(text: str) -> SplitResult:
    """An address that deliveries may go to. Raises ValueError, in words, for anything but https with a name."""
    try:
        parts = urlsplit(text)
        port = parts.port
    except ValueError:
        raise ValueError("this is no address: give one such as https://orders.example/hooks") from None
    if parts.scheme != "https":
        raise ValueError("give an https address: what is delivered must not be read on its way")
    if not parts.hostname or parts.username or parts.password or port == 0 or parts.fragment:
        raise ValueError("give a server's name, without a user, a password or a fragment")
    if any(ord(letter) <= 32 or ord(letter) > 126 for letter in text):
        raise ValueError("give the address in plain letters, without blanks (IDNA for names, %.. in paths)")
    return parts


def is_public(address: str) -> bool:
    """Whether an IP address is one of the public internet: neither this machine, nor a private or shared network, nor
    link-local, multicast, reserved, nor one of these inside an IPv6 address."""
    found = ipaddress.ip_address(address)
    if isinstance(found, ipaddress.IPv6Address):
        if found.ipv4_mapped is not None:
            return is_public(str(found.ipv4_mapped))
        inside = found.sixtofour is not None or found.teredo is not None
        if inside or any(found in network for network in _IPV4_IN_IPV6):
            return False
    return found.is_global and not found.is_multicast and not found.is_reserved


def public_address(host: str, port: int) -> str:
    """An IP address of a server. Raises NotCalled when it has none, or any that is not public."""
    try:
        found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
    except (OSError, UnicodeError):
        raise NotCalled("the server's name is not known") from None
    addresses = [str(one[4][0]) for one in found]
    if not addresses or not all(is_public(address.partition("%")[0]) for address in addresses):
        raise NotCalled("the server's address is not one of the public internet")
    return addresses[0]


class Pinned(http.client.HTTPConnection):
    """A connection to the address that was looked at, whatever its name leads to by now."""

    def __init__(self, host: str, port: int, address: str) -> None:
        super().__init__(host, port, timeout=_WAIT_SECONDS)
        self._address = address

    def connect(self) -> None:
        """Called when the request is sent."""
        self.sock = socket.create_connection((self._address, self.port), self.timeout)


class Secured(Pinned):
    """The same with TLS: the certificate must be the name's."""

    def connect(self) -> None:
        """Called when the request is sent."""
        super().connect()
        self.sock = ssl.create_default_context().wrap_socket(self.sock, server_hostname=self.host)


def post(
    address: str,
    headers: Mapping[str, str],
    body: bytes,
    *,
    look_up: Callable[[str, int], str] = public_address,
    connection_to: Callable[[str, int, str], http.client.HTTPConnection] = Secured,
) -> int:
    """Sends a body: the status that it is answered with; the answer itself is not read. Raises NotCalled."""
    parts = usable_address(address)
    host, port = str(parts.hostname), parts.port or 443
    connection = connection_to(host, port, look_up(host, port))
    path = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
    ending = threading.Timer(_MOST_SECONDS, _cut_off, (connection,))
    ending.start()
    try:
        connection.request("POST", path, body, {**headers, "Content-Type": "application/json"})
        return connection.getresponse().status
    except TimeoutError:
        raise NotCalled("the server did not answer in time") from None
    except ssl.SSLError as error:
        raise NotCalled(f"no secure connection: {error.reason or 'TLS failed'}"[:200]) from None
    except (OSError, http.client.HTTPException) as error:
        raise NotCalled(f"the server did not answer: {type(error).__name__}") from None
    finally:
        ending.cancel()
        connection.close()


def _cut_off(connection: http.client.HTTPConnection) -> None:
    with suppress(OSError, AttributeError):
        connection.sock.shutdown(socket.SHUT_RDWR)
