"""The ready line's PIO program as text, in the assembly language of the RP2040 datasheet.

The board never reads this file: ``ready_program.py`` has the words, and a test assembles this text and compares.
"""

from __future__ import annotations


def source(pin: int, clock_pin: int, after_falling=True, ready_high=True, ignored_pin=None, ignored_high=True) -> str:
    """The program; for what it is given see ``ReadyProgram``."""
    high, low = ("!x", "x--") if after_falling else ("x--", "!x")
    clock_bit = (clock_pin - pin) & 31
    ignored_bit = 1 if ignored_pin is None else (ignored_pin - pin) & 31
    on = "nop" if ignored_pin is None else "jmp %s before" % ("x--" if ignored_high else "!x")
    return """
.program ready
.side_set 1 opt
.wrap_target
idle:
    jmp idle
before:
    mov osr, pins
    out null, %d
    out x, 1
    jmp %s before       ; the clock is still at the level that comes first
after:
    mov osr, pins
    out null, %d
    out x, 1
    jmp %s after
    jmp y-- look        ; the edge; the first one makes ready, and Y all ones
    mov x, isr side %d
    jmp x-- before
    jmp idle            ; ready for good
look:
    mov osr, pins side %d
    out null, %d
    out x, 1
    %s                  ; the machine goes on all the same
    in y, 32            ; held: the word goes out by itself
.wrap
""" % (clock_bit, high, clock_bit, low, ready_high, not ready_high, ignored_bit, on)
