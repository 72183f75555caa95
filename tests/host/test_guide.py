"""The guided first wiring, driven by a script that does what a person at the bench would do."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handtick.bench import Bench
from handtick.errors import StoppedEarly, UsageError
from handtick.links.virtual import VirtualLink
from handtick.virtual.board import VirtualBoard
from handtick.virtual.larch import Larch
from handtick.virtual.loose_wires import LooseWires
from handtick.virtual.rain_tally import RAIN_TALLY
from handtick.wiring import load_wiring
from handtick.wiring.guide import Guide
from handtick.wiring.proof import prove_lines
from handtick_board.settings import Settings

#: Larch's lines by the names the script gives them, lowest bit first.
NAMES = {"bus": range(8), "giver": range(8, 11), "taker": range(11, 15), "fetch": range(15, 16)}


class Supply:
    """A supply with a switch."""

    mv = 0

    def read_mv(self) -> int:
        """What the sense pin sees."""
        return self.mv


class Hand:
    """A person who follows the guide, with a machine whose wires hang loose.

    Args:
        wires: the loose wires.
        names: what the person calls which of the machine's lines.
        slips: lines touched before the right one, by the wire asked for.
    """

    def __init__(
        self, wires: LooseWires, names: dict[str, Sequence[int]], slips: dict[str, list[int]] | None = None
    ) -> None:
        self.said: list[str] = []
        self.supply = Supply()
        self._wires = wires
        self._names = names
        self._left = iter([*names, ""])
        self._slips = slips or {}
        self._now = ""

    def tell(self, text: str) -> None:
        """Does what is asked."""
        self.said.append(text)
        if text.startswith("Touch the wire you want to call "):
            wire = text.removeprefix("Touch the wire you want to call ").removesuffix(" to ground.")
            name, _, bit = wire.removesuffix(" (the lowest bit)").partition(" ")
            self._now = wire
            self._wires.touching = next(iter(self._slips.get(wire, [])), self._names[name][int(bit or 0)])
        elif "touch another" in text:
            name, _, bit = self._now.removesuffix(" (the lowest bit)").partition(" ")
            self._wires.touching = self._names[name][int(bit or 0)]
        elif text.endswith("Let go."):
            self._wires.touching = None
        elif "Connect each free end" in text:
            self._wires.connected = True

    def ask(self, question: str) -> str:
        """Answers."""
        self.said.append(question)
        if question.startswith("Name of"):
            self._now = next(self._left)
            return self._now
        if question.startswith("How many wires"):
            return str(len(self._names[self._now]))
        if "Switch it on" in question:
            self.supply.mv = 4980
        return "yes" if "yes or no" in question else ""


def bench_of(wires: LooseWires, settings: Settings | None = None, supply: Supply | None = None) -> Bench:
    """A bench on the virtual board with loose wires."""
    bench = Bench(VirtualLink(VirtualBoard(wires, settings, supply=supply)))
    bench.open()
    return bench


def steady() -> Callable[[], float]:
    """A clock that goes on by a second each time it is looked at."""
    return itertools.count().__next__


@settings(max_examples=25)
@given(order=st.permutations(range(16)))
def test_file_names_the_right_probe_however_the_wires_lie(
    order: list[int], tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Whichever wire went to whichever probe, the file that comes out reads every bus as the machine has it."""
    file = tmp_path_factory.mktemp("wire") / "wiring.toml"
    larch = Larch(RAIN_TALLY)
    wires = LooseWires(larch, order)
    hand = Hand(wires, NAMES)
    with bench_of(wires, supply=hand.supply) as bench:
        guide = Guide(bench, hand, file)
        guide.run()
        assert prove_lines(bench, hand, guide.buses)
        bench.wiring = load_wiring(file)
        for tick in bench.step(40):
            assert bench.read(tick, late=False)["fetch"] == (tick.early >> order.index(15) & 1)
        lines = larch.probes()
        read = bench.wiring.values(wires.probes())
        assert read == {"bus": lines & 255, "giver": lines >> 8 & 7, "taker": lines >> 11 & 15, "fetch": lines >> 15}
    assert bench.wiring.buses == tuple(bus.__class__(bus.name, bus.probes, bus.show) for bus in guide.buses)


def test_wrong_touches_are_told_and_taken_back(tmp_path: Path) -> None:
    """A wire that has its name already is said to have it, and another may be touched."""
    wires = LooseWires(Larch(RAIN_TALLY), range(16))
    hand = Hand(wires, {"fetch": [15], "bus": [0, 1]}, slips={"bus 0 (the lowest bit)": [15], "bus 1": [0]})
    with bench_of(wires) as bench:
        guide = Guide(bench, hand, tmp_path / "wiring.toml")
        guide.run()
    assert [(bus.name, bus.probes) for bus in guide.buses] == [("fetch", (15,)), ("bus", (0, 1))]
    assert "That is probe 15, which belongs to fetch already; touch another." in hand.said
    assert "That is probe 0, which belongs to this one already; touch another." in hand.said


def test_probe_that_is_held_low_is_left_out(tmp_path: Path) -> None:
    """A probe that something holds to ground from the start is named, and never taken for a touch."""
    wires = LooseWires(Larch(RAIN_TALLY), range(16), bad=[4])
    hand = Hand(wires, {"fetch": [15]})
    with bench_of(wires) as bench:
        Guide(bench, hand, tmp_path / "wiring.toml").run()
    assert "Left out, because something holds them low: probe 4. Is its free end connected?" in hand.said


def test_nothing_moves_before_the_supply_is_on(tmp_path: Path) -> None:
    """Until the machine's supply is there, neither clock nor reset line moves."""
    wires = LooseWires(Larch(RAIN_TALLY), range(16))
    hand = Hand(wires, NAMES)
    board = VirtualBoard(wires, supply=hand.supply)
    with Bench(VirtualLink(board)) as bench:
        guide = Guide(bench, hand, tmp_path / "wiring.toml")
        guide.run()
        assert board.line.edges == []
        assert board.reset_line.edges == []
        assert prove_lines(bench, hand, guide.buses)
    asked = [each for each in hand.said if "Switch it on" in each]
    assert asked == ["The machine's supply is at 0.00 V. Switch it on, then press Enter. "]


def test_halt_line_the_wrong_way_round_is_found(tmp_path: Path) -> None:
    """A halt line that is asserted right after reset is called out, with the setting that turns it round."""
    wires = LooseWires(Larch(RAIN_TALLY), range(16))
    hand = Hand(wires, {"fetch": [15]})
    board = VirtualBoard(wires)
    board.halt_pin.forced = True
    with Bench(VirtualLink(board)) as bench:
        guide = Guide(bench, hand, tmp_path / "wiring.toml")
        guide.run()
        assert not prove_lines(bench, hand, guide.buses)
    assert any("HANDTICK_HALT_ACTIVE" in each for each in hand.said)


def test_machine_that_never_leaves_reset_is_found(tmp_path: Path) -> None:
    """A machine that does not move when stepped is called out, with the setting that turns reset round."""

    class Held(LooseWires):
        """Reset stays asserted, as with the wrong level."""

        def set_reset(self, asserted: bool) -> None:
            """The other way round."""
            super().set_reset(not asserted)

    larch = Larch(RAIN_TALLY)
    larch.set_reset(True)
    wires = Held(larch, range(16))
    hand = Hand(wires, {"fetch": [15]})
    with bench_of(wires) as bench:
        guide = Guide(bench, hand, tmp_path / "wiring.toml")
        guide.run()
        assert not prove_lines(bench, hand, guide.buses)
    assert any("HANDTICK_RESET_ACTIVE" in each for each in hand.said)


def test_wire_never_touched_ends_with_what_was_named_kept(tmp_path: Path) -> None:
    """Who walks away finds the finished names in the file."""
    file = tmp_path / "wiring.toml"
    wires = LooseWires(Larch(RAIN_TALLY), range(16))

    class Gone(Hand):
        """Leaves at the second bus."""

        def tell(self, text: str) -> None:
            """Does not touch any more."""
            if "giver" not in text:
                super().tell(text)

    hand = Gone(wires, {"fetch": [15], "giver": [8, 9, 10]})
    with bench_of(wires) as bench, pytest.raises(StoppedEarly, match="no wire was touched"):
        Guide(bench, hand, file, steady()).run()
    assert [bus.name for bus in load_wiring(file).buses] == ["fetch"]


def test_board_without_probes_is_told_so(tmp_path: Path) -> None:
    """Where the pin profile has no probes there is nothing to name."""
    board = VirtualBoard(Larch(RAIN_TALLY))
    board.board._rim.probe_count = 0
    with (
        Bench(VirtualLink(board)) as bench,
        pytest.raises(UsageError, match="has no probes"),
    ):
        Guide(bench, Hand(LooseWires(Larch(RAIN_TALLY), range(16)), {}), tmp_path / "wiring.toml").run()
