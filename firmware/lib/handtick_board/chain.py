"""More probes than there are pins: shift registers with parallel inputs, in a chain, read out over three pins.

A pulse on ``load`` makes every chip of the chain keep its eight inputs, all at the same instant. What they keep then
comes out at the near end, the nearest chip's input 7 first, moved on by one at each rising edge of ``clock``. The
serial input of the last chip is tied high, so that a one follows the last probe: where none does, the chain is broken.
"""

from __future__ import annotations

CHIP_BITS = 8

#: Reading forty probes out takes an RP2040 a few milliseconds, and there are two samples a tick: so many thousandths of
#: a tick a second leave time for both.
TOP_RATE_MHZ = 50_000


class ChainedProbes:
    """Probes on pins, and above them those of a chain.

    Args:
        direct: the probes on pins, an object with ``read()``, ``disagreed`` and ``pull(way)``.
        direct_count: how many those are.
        load: an output with a ``value``; high, the chips shift, low, they take their inputs in.
        clock: an output with a ``value``, low.
        data: an input; its ``value`` is what comes out of the nearest chip.
        chips: how many chips there are, 1 to ``pin_map.MOST_CHIPS``.
    """

    def __init__(self, direct, direct_count: int, load, clock, data, chips: int) -> None:
        self._direct = direct
        self._direct_count = direct_count
        self._load = load
        self._clock = clock
        self._data = data
        self._chips = chips
        self._broken = False

    @property
    def disagreed(self) -> bool:
        """Whether the last sample is not to be trusted: the probes on pins moved, or the chain is broken."""
        return self._direct.disagreed or self._broken

    def read(self) -> int:
        """All probes as one number; the direct ones are the lowest bits, then input 0 of the nearest chip."""
        load, clock, data = self._load, self._clock, self._data
        load.value = False
        load.value = True
        value: int = self._direct.read()
        place = self._direct_count
        for _ in range(self._chips):
            byte = 0
            for _ in range(CHIP_BITS):
                byte = byte << 1 | data.value
                clock.value = True
                clock.value = False
            value |= byte << place
            place += CHIP_BITS
        self._broken = not data.value
        return value

    def pull(self, way: str) -> None:
        """Pulls the direct probes; no pull of the board's reaches the inputs of the chain."""
        self._direct.pull(way)
