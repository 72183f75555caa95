"""More than sixteen probes: one wiring file, one log, the same commands; what is not there is said."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from pyarrow import parquet

from handtick.bench import Bench
from handtick.discovery import link_to
from handtick.errors import UsageError
from handtick.export import write_csv, write_parquet, write_vcd
from handtick.links.virtual import VirtualLink
from handtick.log import LogReader, Tick
from handtick.opening import open_link
from handtick.probes import STUCK, UNKNOWN, judge_probes
from handtick.rules import read_rule
from handtick.stopping import ON_BOARD, run_until
from handtick.virtual.larch import Larch
from handtick.virtual.larch_board import larch_board
from handtick.virtual.rain_tally import RAIN_TALLY
from handtick.wiring import Bus, Wiring, load_wiring

WIRING = load_wiring(Path(__file__).parents[2] / "examples" / "larch-registers.toml")
TICKS = 60


def by_hand(count: int) -> list[tuple[int, int]]:
    """Larch's program counter and tally after each tick, from a Larch without a board."""
    larch = Larch(RAIN_TALLY)
    seen = []
    for _ in range(count):
        larch.set_clock(True)
        larch.set_clock(False)
        seen.append((larch.counter, larch.tally))
    return seen


def test_registers_on_a_chain_are_in_the_log_under_their_names(tmp_path: Path) -> None:
    """Two chips, sixteen more probes: what the log has of them is what Larch held, tick by tick."""
    path = tmp_path / "log.sqlite3"
    with open_link(VirtualLink(larch_board(chips=2)), path, WIRING) as bench:
        bench.reset()
        bench.burst(TICKS, "50")
    with LogReader.open(path) as log:
        rows = list(log.ticks(boot=1, reset=1))
    named = [WIRING.values(tick.late) for tick in rows if tick.late is not None]
    assert [(each["counter"], each["tally"]) for each in named] == by_hand(TICKS)
    assert any(each["tally"] for each in named)


def test_bus_of_forty_probes_is_exported_whole(tmp_path: Path) -> None:
    """In every format, beyond 32 bits."""
    wiring = Wiring((Bus("control", tuple(range(16, 56))),))
    value = 0x80_1234_5678
    ticks = [Tick(1, 0, 1, value << 16, value << 16 | 0xFFFF, 1000, 0)]
    csv, vcd = io.StringIO(), io.StringIO()
    write_csv(ticks, wiring, csv)
    assert csv.getvalue().splitlines()[1].split(",").count(str(value)) == 2
    write_vcd(ticks, wiring, vcd)
    assert f"b{value:b} " in vcd.getvalue()
    write_parquet(ticks, wiring, tmp_path / "a.parquet")
    assert parquet.read_table(tmp_path / "a.parquet").column("control late").to_pylist() == [value]


def test_rule_on_a_register_stops_where_it_holds() -> None:
    """The first tick whose tally is over ten, found on the board."""
    first = next(tick for tick, (_, tally) in enumerate(by_hand(600), 1) if tally > 10)
    with Bench(VirtualLink(larch_board(chips=2)), wiring=WIRING) as bench:
        bench.reset()
        stop = run_until(bench, read_rule("tally > 10", WIRING), 600)
    assert (stop.tick, stop.judged) == (first, ON_BOARD)


def test_wiring_file_for_a_chain_that_is_not_there_is_refused() -> None:
    """Names on probes that the board does not have would read as zeros: refused, with what to set."""
    with pytest.raises(UsageError, match=r"tally is on probe 31, and this board has probes 0 to 23.*HANDTICK_CHAIN"):
        open_link(VirtualLink(larch_board(chips=1)), None, WIRING)
    with pytest.raises(UsageError, match="this board has probes 0 to 15"):
        open_link(VirtualLink(larch_board()), None, WIRING)


@pytest.mark.parametrize("chips", ["0", "6", "two", ""])
def test_chain_of_so_many_chips_can_not_be(chips: str) -> None:
    """One to five."""
    with pytest.raises(UsageError, match="1 to 5 chips"):
        link_to(f"virtual:chain:{chips}")


def test_probes_on_a_chain_are_unknown_but_stuck_and_joined_ones_are_found() -> None:
    """No pull reaches them; that one never moves where it should is seen all the same."""
    with Bench(VirtualLink(larch_board(chips=2))) as bench:
        bench.reset()
        bench.ask("pull", "up")
        up = [int(bench.status().fields["probes"])]
        bench.ask("pull", "down")
        down = [int(bench.status().fields["probes"])]
        ticks = bench.burst(100, "50")
    found = judge_probes(32, up, down, ticks, trusted=True, should_move={31}, chained=16)
    assert {probe.state for probe in found[16:31]} == {UNKNOWN}
    assert found[31].state == STUCK
    assert UNKNOWN not in {probe.state for probe in found[:16]}
