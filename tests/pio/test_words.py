"""The words on the board are the text beside them, assembled."""

from __future__ import annotations

import adafruit_pioasm
import pytest

from handtick_board.clock_program import X_OUT, ClockProgram
from handtick_board.clock_source import source

from .bench import MEMORY_WORDS
from .hand import Wiring
from .wirings import HALTS, OUTPUTS

PROGRAMS = [
    Wiring(outputs, halt, dead_cycles=dead)
    for outputs in OUTPUTS
    for halt in HALTS
    for dead in (range(2, 9) if outputs == "two-phase" else (2,))
]
_SIDE = 0x1000


@pytest.mark.parametrize("wiring", PROGRAMS, ids=str)
def test_words_are_the_text_assembled(wiring: Wiring) -> None:
    """For every wiring, words and the place where they go round are what the text assembles to."""
    text = adafruit_pioasm.Program(source(wiring.outputs, wiring.halt, wiring.dead_cycles))
    program = wiring.program()
    assert list(program.words) == list(text.assembled)
    assert program.wrap_target == text.pio_kwargs["wrap_target"]
    assert program.wrap == text.pio_kwargs.get("wrap", len(program.words) - 1)
    assert program.idle == program.wrap_target
    assert program.pins == text.pio_kwargs["sideset_pin_count"]
    assert text.pio_kwargs["sideset_enable"]
    assert text.pio_kwargs["mov_status_type"] == "txfifo"
    assert text.pio_kwargs["mov_status_n"] == 1
    assert len(program.words) <= MEMORY_WORDS


@pytest.mark.parametrize("wiring", PROGRAMS, ids=str)
def test_inverted_program_drives_the_other_levels(wiring: Wiring) -> None:
    """Inverted, only levels differ: each that is driven is the other one."""
    plain = wiring.program()
    inverted = ClockProgram(wiring.outputs, wiring.halt, inverted=True, dead_cycles=wiring.dead_cycles)
    levels = ((1 << plain.pins) - 1) << (12 - plain.pins)
    assert plain.rest ^ inverted.rest == (1 << plain.pins) - 1
    for one, other in zip(plain.words, inverted.words, strict=True):
        assert one ^ other == (levels if one & _SIDE else 0)


def test_program_without_probes_samples_zeros() -> None:
    """Without probes, what would shift them in shifts in zeros, and nothing else differs."""
    with_probes, without = ClockProgram(), ClockProgram(probes=False)
    differing = [pair for pair in zip(with_probes.words, without.words, strict=True) if pair[0] != pair[1]]
    assert differing == [tuple(adafruit_pioasm.assemble("in pins, 16\nin null, 16"))] * 2


def test_words_that_hand_out_the_count() -> None:
    """What asks for the ticks that were not made is what the text says."""
    assert list(X_OUT) == list(adafruit_pioasm.assemble("mov isr, x\npush noblock"))


@pytest.mark.parametrize("dead_cycles", [0, 1, 9])
def test_dead_time_out_of_range_is_refused(dead_cycles: int) -> None:
    """No program has two phases without dead time, or with more than its instructions can be drawn out by."""
    with pytest.raises(ValueError, match="dead time"):
        ClockProgram("two-phase", dead_cycles=dead_cycles)
