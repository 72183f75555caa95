"""Larch's reset line and halt line."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from handtick.virtual import larch_code as code
from handtick.virtual.larch import Larch
from handtick.virtual.rain_tally import RAIN_TALLY
from tests.host.larch_by_hand import everything, gauges, programs, tick, ticks


@given(program=programs, gauge=gauges, count=ticks, edges=st.integers(0, 5), high=st.booleans())
def test_reset_in_the_middle_starts_again(program: bytes, gauge: list[int], count: int, edges: int, high: bool) -> None:
    """Reset at any tick and either clock level brings the start back; only the scratch memory stays."""
    larch = Larch(program, gauge)
    for _ in range(count):
        tick(larch)
    larch.set_clock(high)
    fresh = Larch(program, gauge)
    fresh.scratch[:] = larch.scratch
    larch.set_reset(True)
    assert everything(larch) == everything(fresh)
    for _ in range(edges):
        tick(larch)
        assert everything(larch) == everything(fresh)
    larch.set_reset(False)
    larch.set_clock(False)
    assert [tick(larch) for _ in range(100)] == [tick(fresh) for _ in range(100)]


def test_reset_let_go_at_the_high_level_is_no_tick() -> None:
    """When reset ends while the clock line is high, Larch waits for the next rising edge."""
    larch = Larch(RAIN_TALLY)
    larch.set_reset(True)
    larch.set_clock(True)
    larch.set_reset(False)
    larch.set_clock(True)
    assert larch.counter == 0
    larch.set_clock(False)
    larch.set_clock(True)
    assert larch.counter == 1


def test_clock_that_falls_under_reset_rises_again_after_it() -> None:
    """A clock line that went low under reset makes a tick with its next rising edge."""
    larch = Larch(RAIN_TALLY)
    larch.set_clock(True)
    larch.set_reset(True)
    larch.set_clock(False)
    larch.set_reset(False)
    larch.set_clock(True)
    assert larch.counter == 1


@given(count=ticks)
def test_reset_line_that_stays_low_changes_nothing(count: int) -> None:
    """Being told that reset is not asserted, when it was not, leaves Larch where it is."""
    larch = Larch(RAIN_TALLY)
    for _ in range(count):
        tick(larch)
    before = everything(larch)
    larch.set_reset(False)
    assert everything(larch) == before


@given(gauge=gauges, more=st.integers(1, 50))
def test_ticks_after_halt_change_nothing(gauge: list[int], more: int) -> None:
    """Once the halt line is high, further ticks leave every register, every memory byte and every probe as it is."""
    larch = Larch(RAIN_TALLY, gauge)
    while not larch.halted:
        tick(larch)
    halted = everything(larch)
    for _ in range(more):
        tick(larch)
        assert everything(larch) == halted


def test_halt_line_rises_with_the_move_to_halt() -> None:
    """The halt line is low until the very tick that moves a byte to halt, and reset takes it back."""
    larch = Larch(code.assemble([(code.OPERAND, code.HALT, 0)]))
    seen = []
    for _ in range(3):
        tick(larch)
        seen.append(larch.halted)
    assert seen == [False, False, True]
    larch.set_reset(True)
    assert not larch.halted
