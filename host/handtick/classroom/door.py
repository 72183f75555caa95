"""Which addresses a page may be fetched from, and which pages may talk to the room."""

from __future__ import annotations

import ipaddress
import re
from collections.abc import Iterable

# A name or an address, and a port (RFC 3986, 3.2.2), with nothing else before, between or behind.
_HOST = re.compile(r"(?:(?P<name>[a-z0-9._-]+)|\[(?P<six>[0-9a-f:.]+)\])(?::[0-9]{1,5})?")


def host_is_ours(host: str, names: Iterable[str]) -> bool:
    """Whether a request's ``Host`` is one under which this server is to be found.

    An address in figures always is: only a name can be made to point here by somebody else (DNS rebinding).

    Args:
        host: the header, with or without a port.
        names: this machine's names, in small letters.
    """
    found = _HOST.fullmatch(host.lower())
    if found is None:
        return False
    name = found["name"]
    if name is not None and name in names:
        return True
    try:
        ipaddress.ip_address(name or found["six"])
    except ValueError:
        return False
    return True


def origin_is_ours(origin: str | None, host: str) -> bool:
    """Whether a page that opens a socket came from this very server: its ``Origin`` is the ``Host`` it asks."""
    return origin is not None and origin.lower() in (f"http://{host.lower()}", f"https://{host.lower()}")
