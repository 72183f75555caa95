"""The board time of a real board, from the chip's own timer where it can be read."""

from __future__ import annotations

import sys

from .settings import Settings

# The lower half of a timer that counts microseconds.
_TIMER = {"RP2040": 0x40054028}


def make_clock(settings: Settings):
    """A function that gives the board time; notes its resolution in the settings."""
    try:
        import memorymap

        timer = memorymap.AddressRange(start=_TIMER[sys.platform], length=4)
    except (ImportError, KeyError, ValueError):
        import time

        settings.clock_grain_us = settings.press_grain_us = 31
        return lambda: time.monotonic_ns() // 1000 & 0x3FFFFFFF

    def now_us() -> int:
        count = timer[0:4]
        return (count[3] & 0x3F) << 24 | count[2] << 16 | count[1] << 8 | count[0]

    settings.clock_grain_us = 1
    return now_us
