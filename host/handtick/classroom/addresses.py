"""Under which addresses this machine is found by the others of its network."""

from __future__ import annotations

import contextlib
import os
import socket

# An address for documentation (RFC 5737): nothing is sent, the system only says from where it would be.
_ELSEWHERE = ("192.0.2.1", 9)


def own_addresses() -> list[str]:
    """This machine's addresses (IPv4), the one that others reach first; empty where it has no network."""
    found: list[str] = []
    with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.connect(_ELSEWHERE)
        found.append(probe.getsockname()[0])
    with contextlib.suppress(OSError):
        found += [str(entry[4][0]) for entry in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)]
    return [address for address in dict.fromkeys(found) if not address.startswith(("127.", "0."))]


def own_names() -> list[str]:
    """The names of this machine, as others may write them."""
    name = socket.gethostname().lower()
    return ["localhost", name, f"{name.partition('.')[0]}.local"]


def bound(network: bool, port: int) -> socket.socket:
    """A socket to serve on, which lets whoever connects wait until it is served: for this machine only, or for all
    its networks.

    Raises:
        OSError: the port is taken, or not to be had.
    """
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        if os.name == "posix":
            # Elsewhere it would let another program take the port over.
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind(("0.0.0.0" if network else "127.0.0.1", port))
        listener.listen()
    except BaseException:
        listener.close()
        raise
    return listener
