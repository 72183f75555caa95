"""The rate knob: off until it is turned, then one of a row of round rates, without flicker between two of them."""

from __future__ import annotations

#: Rates along the knob's turn, in thousandths of a hertz.
RATES_MHZ = (200, 500, 1000, 2000, 5000, 10_000, 20_000, 50_000, 100_000, 200_000, 500_000, 1_000_000)

_FULL = 65536
_WIDTH = _FULL // len(RATES_MHZ)
_DEAD_BAND = _WIDTH // 4
_TURNED = _FULL // 16


class Knob:
    """Makes rates of readings.

    A reading must pass a border between two rates by a quarter of a rate's width before the rate changes. Nothing is
    asked for until the knob has been turned by a sixteenth of its way, so that a knob that stands somewhere at the
    start, or is not there at all, changes nothing.
    """

    def __init__(self) -> None:
        self._start = -1
        self._place = -1

    def update(self, reading: int) -> int | None:
        """Takes a reading, 0 to 65535; returns a new rate in thousandths of a hertz, or None for no change."""
        if self._start < 0:
            self._start = reading
        if self._place < 0:
            if abs(reading - self._start) < _TURNED:
                return None
            self._place = self._at(reading)
            return RATES_MHZ[self._place]
        low = self._place * _WIDTH - _DEAD_BAND
        high = (self._place + 1) * _WIDTH + _DEAD_BAND
        if low <= reading < high:
            return None
        self._place = self._at(reading)
        return RATES_MHZ[self._place]

    def _at(self, reading: int) -> int:
        return min(reading // _WIDTH, len(RATES_MHZ) - 1)
