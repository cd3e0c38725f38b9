"""Which addresses may be asked: public hosts, and those that a person named.

A record or a redirect from somewhere else must not make this computer ask its own network (a router, a cloud's
metadata service), so an address whose host is not public is refused, unless a person named that very host.  The
addresses that are not public are those of https://www.iana.org/assignments/iana-ipv4-special-registry/ and its IPv6
sibling, as Python's `ipaddress` has them.
"""

from __future__ import annotations

import ipaddress
import socket
import urllib.request
from collections.abc import Iterable
from urllib.parse import urlsplit

_PORTS = {"http": 80, "https": 443}


class Refused(Exception):
    """An address that is not asked; the message is a part of a sentence that says why."""


def host_of(address: str) -> str:
    """'host:port' of an address, in small letters.

    Raises `Refused` for what is no http or https address, and for one with a name or password in it.
    """
    try:
        parts = urlsplit(address)
        host, port = parts.hostname, parts.port
    except ValueError as error:
        message = f"“{address[:100]}” is no web address"
        raise Refused(message) from error
    if parts.scheme not in _PORTS or not host or any(char.isspace() for char in address):
        message = f"“{address[:100]}” is no web address"
        raise Refused(message)
    if parts.username is not None or parts.password is not None:
        message = "its address has a name or a password in it"
        raise Refused(message)
    return f"{host.lower()}:{port or _PORTS[parts.scheme]}"


class Gate:
    """Lets addresses through.  ``named`` are the addresses that a person gave: their hosts may lie anywhere."""

    def __init__(self, named: Iterable[str] = ()) -> None:
        self._named = {host_of(address) for address in named}

    def check(self, address: str, *, before: str = "") -> None:
        """Raise `Refused` unless ``address`` may be asked; ``before`` is the address that redirected to it."""
        host = host_of(address)
        if before and before.lower().startswith("https:") and not address.lower().startswith("https:"):
            message = "it is redirected from a secure address to one that is not"
            raise Refused(message)
        if host in self._named:
            return
        name, _, port = host.rpartition(":")
        if through_proxy(address):
            # The proxy looks names up; only what is no name can be judged here.
            numbers = [name] if _is_number(name) else []
            if name == "localhost" or name.endswith((".localhost", ".local", ".internal")):
                numbers = ["127.0.0.1"]
        else:
            try:
                numbers = [str(found[4][0]) for found in socket.getaddrinfo(name, int(port), type=socket.SOCK_STREAM)]
            except (OSError, UnicodeError):
                return  # A name that nobody knows gives a failed connection, which is told as such.
        for number in numbers:
            self._check_number(name, number)

    def check_peer(self, address: str, number: str) -> None:
        """Raise `Refused` unless the computer that answered may: a name can be given another number meanwhile."""
        if host_of(address) not in self._named and not through_proxy(address):
            self._check_number(host_of(address).rpartition(":")[0], number)

    def _check_number(self, name: str, number: str) -> None:
        if not ipaddress.ip_address(number.split("%")[0]).is_global:
            message = f"the host {name} lies in a private network ({number})"
            raise Refused(message)


def through_proxy(address: str) -> bool:
    """Whether the environment sends requests for this address through a proxy."""
    parts = urlsplit(address)
    proxies = urllib.request.getproxies()
    return bool(proxies.get(parts.scheme) or proxies.get("all")) and not urllib.request.proxy_bypass(
        parts.hostname or ""
    )


def _is_number(name: str) -> bool:
    try:
        ipaddress.ip_address(name.strip("[]"))
    except ValueError:
        return False
    return True
