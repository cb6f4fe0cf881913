"""Where the tablet is served: the address it listens at, and the names it answers to."""

from __future__ import annotations

import ipaddress
import re
import socket
from collections.abc import Sequence
from dataclasses import dataclass
from urllib.parse import urlsplit

from blender.errors import InputError

PORT = 8023  # own choice
LOOPBACK = "127.0.0.1"
CAUTION = (
    "Caution: plain http at {where}. Whoever listens on this network can read what is typed at "
    "the tablet, secrets too, and change it. Put TLS in front and say so (--public https://NAME), "
    "or use a private network."
)
_NAME = re.compile(r"[a-z0-9]([a-z0-9.-]{0,251}[a-z0-9])?")


@dataclass(frozen=True, slots=True)
class Address:
    """What a browser must have asked for.

    Parameters
    ----------
    url : str
        Where it is reached, without a slash at its end.
    hosts : frozenset of str
        Allowed values of the header Host.
    """

    url: str
    hosts: frozenset[str]

    @property
    def is_tls(self) -> bool:
        """Whether a browser reaches it through TLS."""
        return self.url.startswith("https:")

    @property
    def origins(self) -> frozenset[str]:
        """Allowed values of the header Origin."""
        scheme = self.url.partition("://")[0]
        return frozenset(f"{scheme}://{host}" for host in self.hosts)

    def socket_url(self, host: str) -> str:
        """Return where the page of a host opens its socket."""
        return f"{'wss' if self.is_tls else 'ws'}://{host}/ws"


def listening(text: str, port: int) -> tuple[str, bool]:
    """Return the address to listen at, and whether only this machine reaches it.

    Raises
    ------
    InputError
        If it is no address, or the port none.
    """
    try:
        found = ipaddress.ip_address(text)
    except ValueError:
        told = "give an address of this machine, such as 127.0.0.1 or 192.0.2.7"
        raise InputError("--listen", repr(text[:60]), told) from None
    if not 0 <= port <= 65535:
        raise InputError("--port", port, "a port from 1 to 65535; 0 takes any that is free")
    return str(found), found.is_loopback


def bound(host: str, port: int) -> socket.socket:
    """Take the port, so that nobody else can.

    Raises
    ------
    InputError
        If it cannot be had.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    try:
        return socket.create_server((host, port), family=family)
    except OSError as error:
        raise InputError(
            "--port", f"{host} port {port}", f"cannot be had: {error.strerror}"
        ) from None


def reached(
    host: str, port: int, *, is_loopback: bool, names: Sequence[str], public: str = ""
) -> Address:
    """Return by which names it is reached.

    Parameters
    ----------
    host : str
        The address listened at.
    port : int
        Its port.
    is_loopback : bool
        Whether only this machine reaches it.
    names : sequence of str
        Hosts that were allowed by name.
    public : str
        Where TLS in front of it is reached; empty if there is none.

    Raises
    ------
    InputError
        If a name is none, or none is named where others reach it.
    """
    if public:
        return _behind_tls(public)
    allowed = [_host(name) for name in names]
    if not allowed and not is_loopback:
        told = "name the host a browser will ask for, such as --allowed-host 192.0.2.7"
        raise InputError("--allowed-host", "nothing", told)
    usual = [_host(host), "localhost"] if is_loopback else []
    places = [f"{name}:{port}" if port != 80 else name for name in [*allowed, *usual]]
    return Address(f"http://{places[0]}", frozenset(places))


def _behind_tls(public: str) -> Address:
    parts = urlsplit(public)
    if parts.scheme != "https" or not parts.hostname or parts.path not in ("", "/"):
        raise InputError("--public", repr(public[:80]), "write it as https://counter.example")
    if parts.query or parts.fragment or parts.username:
        raise InputError("--public", repr(public[:80]), "scheme and host alone")
    host = _host(parts.hostname)
    place = f"{host}:{parts.port}" if parts.port not in (None, 443) else host
    return Address(f"https://{place}", frozenset((place,)))


def _host(text: str) -> str:
    """Return a host as a browser spells it."""
    name = text.strip().lower().strip("[]")
    if ":" in name:
        try:
            return f"[{ipaddress.IPv6Address(name)}]"
        except ValueError:
            name = ""
    if not _NAME.fullmatch(name):
        told = "a name such as counter.local or an address, without port"
        raise InputError("--allowed-host", repr(text[:80]), told)
    return name
