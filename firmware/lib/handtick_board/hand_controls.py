"""The hand's other controls: run/halt button, reset button, rate knob, and the light. None is on the clock's path."""

from __future__ import annotations

from adafruit_debouncer import Debouncer

from .knob import Knob
from .light import lit
from .us_time import elapsed_us

# How often they are looked at, in microseconds; a press lasts ten times as long at least.
_EVERY_US = 5000


class HandControls:
    """Looks after the controls a few hundred times a second.

    Args:
        board: the board they act on.
        run_button, reset_button: objects whose ``value`` is true while pressed, or None.
        knob: an object whose ``value`` is 0 to 65535, or None.
        light: an object whose ``value`` lights it, or None.
        trouble: whether a setting or pin was refused.
    """

    def __init__(self, board, run_button, reset_button, knob, light, trouble: bool) -> None:
        self._board = board
        self._run = _debounced(run_button)
        self._reset = _debounced(reset_button)
        self._knob_pin = knob
        self._knob = Knob()
        self._light = light
        self._trouble = trouble
        self._looked_us = 0

    def poll(self, now_us: int) -> None:
        """Acts on what has been pressed and turned since the last look."""
        if elapsed_us(now_us, self._looked_us) < _EVERY_US:
            return
        self._looked_us = now_us
        conductor = self._board.conductor
        if self._run is not None:
            self._run.update()
            if self._run.rose:
                conductor.run_or_halt()
        if self._reset is not None:
            self._reset.update()
            if self._reset.rose:
                conductor.reset()
        if self._knob_pin is not None:
            rate_mhz = self._knob.update(self._knob_pin.value)
            if rate_mhz is not None:
                conductor.change_rate(rate_mhz)
        if self._light is not None:
            self._light.value = lit(now_us, conductor.mode, self._trouble)


def _debounced(button) -> Debouncer | None:
    return None if button is None else Debouncer(lambda: button.value)
