"""Probes on a chain of shift registers: every level at its probe, in one instant, and a broken chain told."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handtick.events import Greeting
from handtick.links.virtual import VirtualLink
from handtick.virtual.board import VirtualBoard
from handtick.virtual.chain_chips import ChainOfChips, ShiftRegister
from handtick_board.chain import ChainedProbes
from handtick_board.settings import Settings
from handtick_wire.messages import FLAG_DISAGREED
from tests.board.hearing import Hearing
from tests.board.still_machine import StillMachine


class Direct:
    """Probes on pins at fixed levels."""

    disagreed = False

    def __init__(self, levels: int) -> None:
        self.levels = levels
        self.pulled = ""

    def read(self) -> int:
        """The levels."""
        return self.levels

    def pull(self, way: str) -> None:
        """Keeps which way."""
        self.pulled = way


def read_out(levels: int, there: int, chips: int, direct: int = 0, direct_count: int = 16) -> tuple[int, bool]:
    """A sample of a chain of ``there`` chips where the settings say ``chips``, and whether it is not to be trusted."""
    chain = ChainOfChips(there, lambda: levels)
    probes = ChainedProbes(Direct(direct), direct_count, chain.load, chain.clock, chain.data, chips)
    return probes.read(), probes.disagreed


def test_chip_by_hand() -> None:
    """Inputs 1000 0010: the first bit out is input 7's, each clock brings the next, and last the serial input's."""
    chip = ShiftRegister(lambda: 0b1000_0010, lambda: True)
    chip.set_load(False)
    chip.set_load(True)
    out = []
    for _ in range(9):
        out.append(int(chip.output))
        chip.shift(chip.incoming())
    assert out == [1, 0, 0, 0, 0, 0, 1, 0, 1]


def test_chip_takes_its_inputs_in_while_load_is_low_whatever_its_clock_does() -> None:
    """Its last stage follows input 7 until load rises, and keeps it from then on."""
    levels = [0x80]
    chip = ShiftRegister(lambda: levels[0], lambda: False)
    chip.set_load(False)
    chip.shift(False)
    assert chip.output
    levels[0] = 0
    assert not chip.output
    levels[0] = 0x80
    chip.set_load(True)
    levels[0] = 0
    assert chip.output


@given(chips=st.integers(1, 5), direct_count=st.sampled_from([0, 3, 16]), data=st.data())
def test_every_input_is_at_its_probe(chips: int, direct_count: int, data: st.DataObject) -> None:
    """Whatever the levels: the direct probes below, then input 0 to 7 of the nearest chip, and so on."""
    levels = data.draw(st.integers(0, (1 << 8 * chips) - 1))
    direct = data.draw(st.integers(0, (1 << direct_count) - 1))
    assert read_out(levels, chips, chips, direct, direct_count) == (direct | levels << direct_count, False)


def test_all_inputs_are_of_one_instant() -> None:
    """Levels that move while the chain is read out do not get into the sample."""
    moving = [0xA5C3]
    chain = ChainOfChips(2, lambda: moving[0])

    class Nervous:
        @property
        def value(self) -> bool:
            moving[0] ^= 0xFFFF
            return chain.data.value

    probes = ChainedProbes(Direct(0), 0, chain.load, chain.clock, Nervous(), 2)
    assert probes.read() == 0xA5C3
    moving[0] = 0x0FF0
    assert probes.read() == 0x0FF0


@given(levels=st.integers(0, (1 << 24) - 1), cut=st.integers(0, 2))
def test_wire_off_between_two_chips_is_told(levels: int, cut: int) -> None:
    """What lies beyond it reads low, and so does the one that should follow the last probe."""
    chain = ChainOfChips(3, lambda: levels)
    chain.cut = cut
    probes = ChainedProbes(Direct(0), 0, chain.load, chain.clock, chain.data, 3)
    assert probes.read() == levels & ((1 << 8 * cut) - 1)
    assert probes.disagreed


def test_fewer_chips_in_the_settings_than_on_the_board_are_told_where_the_next_input_is_low() -> None:
    """The bit after the last probe is then an input of the next chip: low, it is told; high, it can't be."""
    assert read_out(0x00FF, there=2, chips=1) == (0xFF << 16, True)
    assert read_out(0x80FF, there=2, chips=1) == (0xFF << 16, False)


def test_pulls_go_to_the_probes_on_pins() -> None:
    """The chain has none."""
    direct, chain = Direct(0), ChainOfChips(1, lambda: 0)
    ChainedProbes(direct, 16, chain.load, chain.clock, chain.data, 1).pull("up")
    assert direct.pulled == "up"


class Counted(StillMachine):
    """A machine with a 40-bit counter of clock edges on a chain, and its low half on the probes."""

    def __init__(self) -> None:
        super().__init__()
        self.count = 0xFE_FFFF_FFFD
        self._level = False

    def set_clock(self, level: bool) -> None:
        """Counts."""
        self.count = self.count + (level and not self._level) & (1 << 40) - 1
        self._level = level

    def probes(self) -> int:
        """The low half."""
        return self.count & 0xFFFF


def a_board(chips: int = 5, chip_count: int | None = None) -> tuple[VirtualBoard, Hearing, ChainOfChips]:
    """A board with that machine, and what a host hears from it."""
    settings = Settings()
    settings.chain = chips
    machine = Counted()
    chain = ChainOfChips(chips if chip_count is None else chip_count, lambda: machine.count)
    board = VirtualBoard(machine, settings, chain=chain)
    return board, Hearing(VirtualLink(board)), chain


def test_ticks_carry_all_fifty_six_probes_both_before_and_after_the_edge() -> None:
    """The count passes 2^24, 2^32 and more, and is in every sample whole."""
    board, hearing, _ = a_board()
    greeting = next(event for event in hearing.events if isinstance(event, Greeting))
    assert (greeting.fields["probes"], greeting.fields["engine"], greeting.fields["top_rate"]) == (56, "software", "50")
    hearing.ask("step", 5)
    counts = [0xFE_FFFF_FFFD + place for place in range(6)]
    whole = [(count & 0xFFFF) | count << 16 for count in counts]
    assert [(tick.early, tick.late) for tick in hearing.ticks] == list(itertools.pairwise(whole))
    assert [tick.flags for tick in hearing.ticks] == [0] * 5
    assert board.board.clock.edges == 5


def test_faster_than_a_chain_is_read_is_refused() -> None:
    """Fifty ticks a second, and no more."""
    _, hearing, _ = a_board(2)
    assert hearing.ask("run", "50").kind == "done"
    hearing.ask("halt")
    assert hearing.ask("run", "50.001").why == "too-fast"


def test_broken_chain_is_in_the_flags_of_every_tick() -> None:
    """A wire that comes off in the middle of an evening does not look like levels of the machine."""
    _, hearing, chain = a_board(3)
    hearing.ask("step", 1)
    chain.cut = 1
    hearing.ask("step", 2)
    assert [tick.flags for tick in hearing.ticks] == [0, FLAG_DISAGREED, FLAG_DISAGREED]


@pytest.mark.parametrize(("rule", "tick"), [("E0=0", 1), ("EFF000000000000=FF000000000000", 3), ("T=5", 5)])
def test_rules_take_probes_of_the_chain(rule: str, tick: int) -> None:
    """A rule on the uppermost eight probes of 56 is judged on the board, and rests it at exactly that tick."""
    board, hearing, _ = a_board()
    assert hearing.ask("stop_when", f"N1,{rule}").kind == "done"
    assert hearing.ask("step", 20).why == "rule"
    assert board.board.clock.tick == tick
