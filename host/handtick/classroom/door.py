"""Which addresses a page may be fetched from, and which pages may talk to the room."""

from __future__ import annotations

import ipaddress
from collections.abc import Iterable


def host_is_ours(host: str, names: Iterable[str]) -> bool:
    """Whether a request's ``Host`` is one under which this server is to be found.

    An address in figures always is: only a name can be made to point here by somebody else (DNS rebinding).

    Args:
        host: the header, with or without a port.
        names: this machine's names, in small letters.
    """
    name = _without_port(host.lower())
    if name in names:
        return True
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


def origin_is_ours(origin: str | None, host: str) -> bool:
    """Whether a page that opens a socket came from this very server: its ``Origin`` is the ``Host`` it asks."""
    return origin is not None and origin.lower() in (f"http://{host.lower()}", f"https://{host.lower()}")


def _without_port(host: str) -> str:
    if host.startswith("["):
        return host[1:].partition("]")[0]
    name, colon, port = host.rpartition(":")
    return name if colon and port.isdecimal() else host
