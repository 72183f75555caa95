"""Makes the ready line when it is first needed, as most machines have none, and memory is scarce."""

from __future__ import annotations

import sys


def ready_maker(settings, number: int | None, clock_number: int | None, pin):
    """What makes the ready line once the host has said what it is like; None where there can be none.

    Only on an RP2040: the state machine of an RP2350 sees no pins but its own.

    Args:
        settings: the settings in force.
        number, clock_number: numbers of the ready line's pin and of the clock's; None for one that has none.
        pin: the ready line's pin.
    """
    if settings.spare == "trigger" or number is None or clock_number is None or sys.platform != "RP2040":
        return None
    # After the edge that does not clock the machine, as it is at the pin.
    after_falling = settings.active_falling == settings.inverting

    def make(ready_high: bool, probe: int | None, ignored_high: bool):
        import rp2pio

        from .pio_ready import PioReady
        from .ready_program import ReadyProgram

        program = ReadyProgram(number, clock_number, after_falling, ready_high, probe, ignored_high)
        return PioReady(rp2pio, program, pin)

    return make
