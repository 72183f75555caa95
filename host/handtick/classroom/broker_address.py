"""Where a broker is and how one gets in, as it is written on the command line."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from urllib.parse import SplitResult, unquote, urlsplit

from handtick.errors import UsageError

#: What topics begin with where nothing else is asked for.
PREFIX = "handtick"
#: The environment variable that a password may stand in, so that no list of processes shows it.
PASSWORD_VARIABLE = "HANDTICK_BROKER_PASSWORD"
# Registered with IANA: plain, and under TLS.
_PORTS = {"mqtt": 1883, "mqtts": 8883}
_LONGEST_PREFIX = 100
_FORM = "write it as mqtt://[user[:password]@]host[:port][/prefix], or mqtts:// for TLS"


@dataclass(frozen=True, slots=True)
class BrokerAddress:
    """A broker.

    Attributes:
        host: its name or address.
        port: its TCP port.
        tls: whether it is spoken to under TLS.
        prefix: what all topics begin with.
        user, password: how one gets in; None where it asks for neither.
    """

    host: str
    port: int
    tls: bool = False
    prefix: str = PREFIX
    user: str | None = None
    password: str | None = field(default=None, repr=False)

    def __str__(self) -> str:
        """As it is said to people: without user and password."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"{host}:{self.port}"


def read_broker(url: str, password: str | None = None) -> BrokerAddress:
    """Reads an address; where it has a user without a password, ``password`` is theirs.

    Raises:
        UsageError: it is none; its own password is not repeated.
    """
    shown = re.sub(r"//[^/]*@", "//...@", url)[:80]
    try:
        parts = urlsplit(url)
        port = parts.port if parts.port is not None else _PORTS.get(parts.scheme, 0)
        # As the system will look it up: no label empty or too long.
        (parts.hostname or "").encode("idna")
    except ValueError as error:
        raise UsageError(f"--broker {shown}: no such address; {_FORM}") from error
    if parts.scheme not in _PORTS or not parts.hostname or not port or parts.query or parts.fragment:
        raise UsageError(f"--broker {shown}: {_FORM}")
    user, secret = _login(parts, password)
    return BrokerAddress(parts.hostname, port, parts.scheme == "mqtts", _prefix(parts.path, shown), user, secret)


def _login(parts: SplitResult, password: str | None) -> tuple[str | None, str | None]:
    user = unquote(parts.username) if parts.username else None
    if user is None and (parts.password or password):
        raise UsageError(f"--broker: a password is there, but no user; {_FORM}, or leave {PASSWORD_VARIABLE} unset")
    return user, unquote(parts.password) if parts.password else password


def _prefix(path: str, shown: str) -> str:
    prefix = unquote(path).strip("/")
    if not prefix:
        return PREFIX
    levels = prefix.split("/")
    if not prefix.isprintable() or len(prefix) > _LONGEST_PREFIX or prefix[0] == "$" or not all(levels):
        raise UsageError(f"--broker {shown}: the prefix has 1 to {_LONGEST_PREFIX} letters and does not begin with $")
    if set(prefix) & set("+#"):
        raise UsageError(f"--broker {shown}: + and # stand for many topics; the prefix goes without")
    return prefix
