"""The settings in force: what the rest of the firmware knows of them. What may be chosen is in ``choices.py``."""

from __future__ import annotations


class Settings:
    """The settings in force; fresh ones are the defaults.

    Attributes:
        press_grain_us, clock_grain_us: resolution of the button's stamps and of the clock, in microseconds; set by
            whoever knows the hardware.
        The others as in ``choices.TABLE``.
    """

    def __init__(self) -> None:
        self.profile = "full"
        self.press_us = 100
        self.rearm_us = 20_000
        self.step_us = 1000
        self.rate_mhz = 10_000
        self.top_rate_mhz = 100_000_000_000
        self.duty_percent = 50
        self.reset_ticks = 2
        self.ring = 4096
        self.rest_high = False
        self.active_falling = False
        self.inverting = False
        self.outputs = "inverse"
        self.spare = "ready"
        self.dead_ns = 16
        self.reset_high = False
        self.halt_low = False
        self.probe_pull = "down"
        self.chain = 1
        self.when_full = "pause"
        self.when_host_gone = "rest"
        self.press_grain_us = 1
        self.clock_grain_us = 0
