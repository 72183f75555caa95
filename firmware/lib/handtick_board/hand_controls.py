"""The hand's other controls: run/halt button, reset button, rate knob, and the light. None is on the clock's path."""

from __future__ import annotations

from adafruit_debouncer import Debouncer

from .knob import Knob
from .light import lit
from .transitions import REST
from .us_time import elapsed_us

# How often one of them, in turn, is looked at, in microseconds; a press lasts several rounds at least.
_EVERY_US = 4000


class HandControls:
    """Looks after the controls one at a time, so that none of it keeps the clock waiting for long.

    Args:
        board: the board they act on.
        run_button, reset_button: objects whose ``value`` is true while pressed, or None.
        knob: an object whose ``value`` is 0 to 65535, or None.
        light: an object whose ``value`` lights it, or None.
        trouble: whether a setting or pin was refused.
    """

    def __init__(self, board, run_button, reset_button, knob, light, trouble: bool) -> None:
        self._conductor = board.conductor
        self._knob_pin = knob
        self._knob = Knob()
        self._light = light
        self._trouble = trouble
        self._looked_us = 0
        looks = []
        if run_button is not None:
            self._run = Debouncer(lambda: run_button.value)
            looks.append(self._look_at_run_button)
        if reset_button is not None:
            self._reset = Debouncer(lambda: reset_button.value)
            looks.append(self._look_at_reset_button)
        if knob is not None:
            looks.append(self._look_at_knob)
        if light is not None:
            looks.append(self._set_light)
        self._looks = looks
        self._turn = 0

    def poll(self, now_us: int) -> None:
        """Acts on what has been pressed or turned since the last look."""
        late_us = elapsed_us(now_us, self._looked_us)
        if late_us < _EVERY_US or not self._looks:
            return
        self._looked_us = now_us
        # Passes are long while blocks of samples go out: then two, so that a press need not last longer.
        moving = self._conductor.mode != REST
        for _ in range(2 if moving and late_us >= 2 * _EVERY_US else 1):
            self._turn = (self._turn + 1) % len(self._looks)
            self._looks[self._turn](now_us)

    def _look_at_run_button(self, now_us: int) -> None:
        self._run.update()
        if self._run.rose:
            self._conductor.run_or_halt()

    def _look_at_reset_button(self, now_us: int) -> None:
        self._reset.update()
        if self._reset.rose:
            self._conductor.reset()

    def _look_at_knob(self, now_us: int) -> None:
        rate_mhz = self._knob.update(self._knob_pin.value)
        if rate_mhz is not None:
            self._conductor.change_rate(rate_mhz)

    def _set_light(self, now_us: int) -> None:
        self._light.value = lit(now_us, self._conductor.mode, self._trouble)
