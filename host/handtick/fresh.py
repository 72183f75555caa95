"""Numbers that nobody had before."""

from __future__ import annotations

import os


def fresh_number(bits: int) -> int:
    """A random number of up to so many bits from the system; Python's own `random` takes as long to load as a log."""
    return int.from_bytes(os.urandom(-(-bits // 8))) & ((1 << bits) - 1)
