"""Edges sent against edges seen, on a bench with each fault of the clock wire and on a healthy one."""

from __future__ import annotations

import pytest

from handtick.bench import Bench
from handtick.edges import TOO_FEW, TOO_MANY, Burst, advice, board_counter, bus_counter, count_edges
from handtick.errors import UsageError
from handtick.links.virtual import VirtualLink
from handtick.virtual.board import VirtualBoard
from handtick.virtual.larch_board import larch_board
from handtick.wiring import Bus
from handtick_board.edge_counter import EdgeCounter
from handtick_board.rim import Rim
from tests.board.still_machine import StillMachine

RATES = ["100", "1000", "10000"]


class Counting(StillMachine):
    """A machine that is a counter: its probes are how many edges it has seen, eight bits of them.

    Args:
        extra_every: every so many edges one rings, and counts twice; 0 for never.
        deaf_every: every so many edges one is not seen; 0 for never.
    """

    def __init__(self, extra_every: int = 0, deaf_every: int = 0, start: int = 0) -> None:
        super().__init__()
        self.count = start
        self._edges = 0
        self._extra_every, self._deaf_every = extra_every, deaf_every
        self._level = False

    def set_clock(self, level: bool) -> None:
        """Counts."""
        if level and not self._level:
            self._edges += 1
            self.count += 1
            self.count += bool(self._extra_every and self._edges % self._extra_every == 0)
            self.count -= bool(self._deaf_every and self._edges % self._deaf_every == 0)
        self._level = level

    def probes(self) -> int:
        """The count."""
        return self.count & 0xFF


def seen_by_machine(machine: Counting, count: int = 16) -> list[Burst]:
    """Bursts against the machine's own counter, on probes 0 to 7."""
    with Bench(VirtualLink(VirtualBoard(machine))) as bench:
        counter = bus_counter(bench, Bus("count", tuple(range(8))))
        return count_edges(bench, counter, RATES, count, modulus=256)


def seen_by_board(fault: str | None, count: int = 16) -> list[Burst]:
    """Bursts against the board's counter, on a Larch with a fault or without."""
    with Bench(VirtualLink(larch_board(fault=fault))) as bench:
        bench.reset()
        return count_edges(bench, board_counter(bench), RATES, count)


@pytest.mark.parametrize("start", [0, 250])
def test_healthy_machine_sees_every_edge_once(start: int) -> None:
    """Also where its counter wraps on the way."""
    assert seen_by_machine(Counting(start=start)) == [Burst(rate, 16, 16) for rate in RATES]
    assert advice(seen_by_machine(Counting())) == ()


def test_sixteen_sent_and_eighteen_seen_is_told_as_it_is() -> None:
    """Every eighth edge rings: two more of sixteen; the advice begins with the series resistor."""
    bursts = seen_by_machine(Counting(extra_every=8))
    assert [burst.seen for burst in bursts] == [18, 18, 18]
    assert advice(bursts) == TOO_MANY
    assert "series resistor" in TOO_MANY[0]
    assert ["ground" in TOO_MANY[1], "supply pins" in TOO_MANY[2], "slower driver" in TOO_MANY[3]] == [True] * 3


def test_fifteen_of_sixteen_seen_points_at_levels_and_load() -> None:
    """Every sixteenth edge is missed."""
    bursts = seen_by_machine(Counting(deaf_every=16))
    assert [burst.seen for burst in bursts] == [15, 15, 15]
    assert advice(bursts) == TOO_FEW
    assert "levels" in TOO_FEW[0]


def test_counter_that_does_not_count_has_seen_nothing() -> None:
    """All of a burst is missing."""
    assert [burst.seen for burst in seen_by_machine(Counting(deaf_every=1))] == [0, 0, 0]


def test_board_counter_sees_every_edge_of_a_healthy_larch() -> None:
    """A halted machine's wire is looked at all the same."""
    assert seen_by_board(None) == [Burst(rate, 16, 16) for rate in RATES]
    assert all(burst.good for burst in seen_by_board(None, count=100))


@pytest.mark.parametrize(("fault", "more"), [("ringing:200", True), ("deaf:200", False)])
def test_board_counter_finds_each_fault_of_the_wire_and_exactly_that(fault: str, more: bool) -> None:
    """A ringing wire gives more edges than were sent, one too weak fewer, and never the other."""
    bursts = seen_by_board(fault, count=40)
    assert any(not burst.good for burst in bursts)
    assert all((burst.seen >= burst.sent) if more else (burst.seen <= burst.sent) for burst in bursts)


@pytest.mark.parametrize("fault", ["stuck:3=1", "loose:5", "shorted:2=0", "bridged:1,2", "slow:sum,2500"])
def test_faults_elsewhere_are_none_of_the_clock_wire(fault: str) -> None:
    """Nothing is said of the clock where something else is wrong."""
    assert all(burst.good for burst in seen_by_board(fault))


class _WithoutCounter(VirtualBoard):
    @staticmethod
    def rewired(rim: Rim) -> Rim:
        rim.counter = None
        return rim


def test_board_without_a_counter_says_how_to_have_one() -> None:
    """A pin profile, or a bus of the machine."""
    with (
        Bench(VirtualLink(_WithoutCounter(StillMachine()))) as bench,
        pytest.raises(UsageError, match=r'no edge counter: set HANDTICK_PROFILE = "counter", or name with --bus'),
    ):
        board_counter(bench)


def test_counter_is_not_read_while_the_clock_runs() -> None:
    """Reading it then would lose edges: the status says that it moves."""
    with Bench(VirtualLink(larch_board())) as bench:
        bench.run("10")
        assert bench.status().fields["counted"] == "moving"
        bench.halt()
        assert int(bench.status().fields["counted"]) == bench.edges


def test_counter_on_a_pin_counts_rising_edges_with_a_pull_down() -> None:
    """As the hardware's module wants it."""

    class Edge:
        RISE = "rise"

    class Countio:
        made: tuple[object, ...] = ()

        class Counter:
            count = 7

            def __init__(self, pin: str, edge: str, pull: str) -> None:
                Countio.made = (pin, edge, pull)

    Countio.Edge = Edge  # type: ignore[attr-defined]
    assert EdgeCounter("GP17", Countio, "down").read() == 7
    assert Countio.made == ("GP17", "rise", "down")
