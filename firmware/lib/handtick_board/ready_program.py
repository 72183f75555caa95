"""The ready line's PIO program, assembled: lets a machine whose clock runs on be ready for one cycle of it.

The ready line changes after that edge of the clock which does not clock the machine, so that it stands still when the
machine looks at it. The state machine stays at ``idle`` until it is sent off with two numbers loaded by hand. Y nought:
at the next such edge the line goes to ready; then, where ISR is nought, it stays there. Otherwise, and where Y was all
ones from the start, the next such edge takes it to not ready. From there on cycles are counted in which the machine
goes on all the same, because the line that says so says so; at the end of the first cycle in which it does not, Y is
handed out: all ones less one for each edge looked at.

It owns the ready line's pin and no other: it reads the clock and the probes among all pins. Text: ``ready_source.py``.
"""

from __future__ import annotations

import array

#: The most cycles from the clock's edge at its pin to the ready line's.
MOST_CYCLES = 11

_WORDS = "0000 A0E0 6060 6021 0021 A0E0 6060 6021 0045 008D B026 0041 0000 B0E0 6060 6021 0041 4040"
_HIGH_LOOP, _LOW_LOOP, _CLOCK_BITS, _IGNORED_BIT, _IGNORED_JUMP = 4, 8, (2, 6), 14, 16
_READY_SIDE, _HELD_SIDE = 10, 13
_JMP_NOT_X, _JMP_X, _NOP = 0x0020, 0x0040, 0xA042
_SIDE, _HIGH = 0x1000, 0x0800
_MOV_ISR_NULL, _MOV_ISR_ONES, _MOV_Y_NULL, _MOV_Y_ONES = 0xA0C3, 0xA0CB, 0xA043, 0xA04B
_FIRST = 1


class ReadyProgram:
    """The program for one wiring.

    Args:
        pin: number of the ready line's pin.
        clock_pin: number of the clock's.
        after_falling: whether the line changes after the falling edge at the clock's pin.
        ready_high: whether the line is high while the machine is to be ready.
        ignored_pin: number of the pin of the line that says when the machine ignores it; None where it never does.
        ignored_high: the level at which it does.

    Attributes:
        words: the program.
        idle: address of the place to stay, where it also begins.
        wrap_target, wrap: where it goes round.
        ready: level of the pin while the machine is to be ready.
    """

    idle = wrap_target = 0

    def __init__(
        self, pin: int, clock_pin: int, after_falling=True, ready_high=True, ignored_pin=None, ignored_high=True
    ) -> None:
        words = [int(word, 16) for word in _WORDS.split()]
        if not after_falling:
            words[_HIGH_LOOP] ^= _JMP_NOT_X | _JMP_X
            words[_LOW_LOOP] ^= _JMP_NOT_X | _JMP_X
        for at in _CLOCK_BITS:
            words[at] |= (clock_pin - pin) & 31
        if ignored_pin is None:
            words[_IGNORED_BIT] |= 1
            words[_IGNORED_JUMP] = _NOP
        else:
            words[_IGNORED_BIT] |= (ignored_pin - pin) & 31
            if not ignored_high:
                words[_IGNORED_JUMP] ^= _JMP_NOT_X | _JMP_X
        words[_READY_SIDE if ready_high else _HELD_SIDE] |= _HIGH
        self.ready = ready_high
        self.words = array.array("H", words)
        self.wrap = len(words) - 1

    # What is run by hand, where the program lies at ``offset``.

    def step(self, offset: int):
        """Words that send it off to let the machine be ready for one cycle."""
        return array.array("H", (_MOV_ISR_ONES, _MOV_Y_NULL, offset + _FIRST))

    def hold(self, offset: int):
        """Words that send it off to hold the machine, which is ready until then."""
        return array.array("H", (_MOV_ISR_NULL, _MOV_Y_ONES, offset + _FIRST))

    def let_go(self, offset: int):
        """Words that send it off to let the machine be ready for good."""
        return array.array("H", (_MOV_ISR_NULL, _MOV_Y_NULL, offset + _FIRST))

    def hold_now(self, offset: int):
        """Words that make the machine not ready at once, for a clock that is at rest."""
        return array.array("H", (offset + self.idle, _NOP | _SIDE | (0 if self.ready else _HIGH)))

    def give_up(self, offset: int):
        """Words that make the machine ready at once, whatever the clock does, and send the program to ``idle``."""
        return array.array("H", (offset + self.idle, _NOP | _SIDE | (_HIGH if self.ready else 0)))


def passed(word: int) -> int:
    """How many cycles the machine went through although it was not to, from what was handed out."""
    return 0xFFFFFFFE - word
