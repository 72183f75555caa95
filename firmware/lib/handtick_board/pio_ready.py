"""The ready line on a PIO state machine: the rim of ``ready_steps.py``."""

from __future__ import annotations

import array

from .ready_program import passed


class PioReady:
    """The ready line; the machine is ready from the start.

    Args:
        rp2pio: the module.
        program: a ``ReadyProgram``.
        pin: the pin of the line.
    """

    def __init__(self, rp2pio, program, pin) -> None:
        self._machine = rp2pio.StateMachine(
            program.words,
            frequency=0,
            first_in_pin=pin,
            first_sideset_pin=pin,
            sideset_pin_count=1,
            initial_sideset_pin_state=int(program.ready),
            sideset_enable=True,
            auto_push=True,
            push_threshold=32,
            wrap_target=program.wrap_target,
            wrap=program.wrap,
        )
        offset = self._machine.offset
        self._idle = offset + program.idle
        self._step, self._hold = program.step(offset), program.hold(offset)
        self._hold_now = program.hold_now(offset)
        self._let_go, self._give_up = program.let_go(offset), program.give_up(offset)
        self._answer = array.array("I", (0,))

    @property
    def busy(self) -> bool:
        """Whether it waits for an edge of the clock."""
        return self._machine.pc != self._idle

    def step(self) -> None:
        """Lets the machine, which is held, be ready for one cycle; ``passed`` is to be asked for after it."""
        self._machine.run(self._step)

    def hold(self) -> None:
        """Holds the machine; ``passed`` is to be asked for after it."""
        self._machine.run(self._hold)

    def hold_now(self) -> None:
        """Holds the machine at once, while its clock is at rest."""
        self._machine.run(self._hold_now)

    def let_go(self) -> None:
        """Makes the machine ready for good."""
        self._machine.run(self._let_go)

    def give_up(self) -> None:
        """Makes the machine ready at once, whatever it waits for."""
        self._machine.run(self._give_up)
        self._machine.clear_rxfifo()

    def passed(self) -> int:
        """Once not busy: how many cycles the machine went through although it was not ready."""
        self._machine.readinto(self._answer)
        return passed(self._answer[0])

    def close(self) -> None:
        """Lets the pin go."""
        self._machine.deinit()
