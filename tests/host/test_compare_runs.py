"""Two runs of a log compared as their traces are: the same finding, however the log holds them."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import given, settings
from hypothesis import strategies as st

from handtick.compare import Trace, diagnose
from handtick.compare.logged import diagnose_logged
from handtick.compare.trace import Lines
from handtick.log import LogReader, LogWriter, Part
from handtick.wiring import Bus, Wiring

# Probe 4 has no name: what is on it does not count.
WIRING = Wiring((Bus("low", (1, 0)), Bus("high", (2, 3), inverted=True)))

runs = st.tuples(
    # First tick, number of ticks, and whether they come as blocks.
    st.sampled_from([1, 1, 1000, 1024, 1030, 2040]),
    st.sampled_from([1, 5, 1024, 2100, 4000]),
    st.booleans(),
)
faults = st.sampled_from(["none", "none", "stuck", "slip", "one", "wide", "unnamed", "missing"])


def samples(first: int, count: int, loop: list[int], fault: str, place: int) -> dict[int, int]:
    """What a machine in a loop shows at each tick, with a fault from some tick on."""
    slip = 1 if fault == "slip" else 0
    shown = {tick: loop[(tick + (slip if tick >= place else 0)) % len(loop)] for tick in range(first, first + count)}
    for tick in shown:
        if fault == "stuck" or (fault == "one" and tick == place):
            shown[tick] |= 1
        elif fault == "unnamed":
            shown[tick] |= 16
        elif fault == "wide" and tick == place:
            shown[tick] |= 1 << 20
    if fault == "missing" and count > 1:
        shown.pop(place, None)
    return shown


@settings(max_examples=80, deadline=None)
@given(
    st.tuples(runs, runs),
    st.lists(st.integers(0, 15), min_size=1, max_size=40),
    faults,
    st.sampled_from([1, 1024, 1100, 2047, 2048, 3000]),
    st.booleans(),
)
def test_runs_of_a_log_give_what_their_traces_give(
    both: tuple[tuple[int, int, bool], tuple[int, int, bool]], loop: list[int], fault: str, place: int, late: bool
) -> None:
    """Wherever they begin and end, as blocks or tick by tick, with and without faults."""
    lines = Lines(WIRING)
    with TemporaryDirectory() as folder:
        path = Path(folder) / "log.sqlite3"
        traces, parts = [], []
        with LogWriter.open(path, "shed", 0) as log:
            for boot, (first, count, as_blocks) in enumerate(both, 1):
                shown = samples(first, count, loop, fault if boot == 2 else "none", place)
                wanted, other = list(shown.values()), [0] * len(shown)
                early, late_ones = (other, wanted) if late else (wanted, other)
                if as_blocks and len(shown) == count:
                    log.add_block(boot, 0, first, early, late_ones, [0] * count, 0)
                else:
                    log.add_ticks(
                        (boot, 0, tick, *pair, 0, 0) for tick, *pair in zip(shown, early, late_ones, strict=True)
                    )
                parts.append(Part(boot, 0, first, first + count - 1))
                traces.append(Trace(lines.names, tuple(lines.row(*each) for each in shown.items())))
        with LogReader.open(path) as reader:
            assert diagnose_logged(reader, lines, parts[0], parts[1], late) == diagnose(*traces)


def test_a_slip_over_many_stretches_is_one(tmp_path: Path) -> None:
    """An extra clock is found in whole stretches, and any later tick that does not fit it gives it up."""
    path = tmp_path / "log.sqlite3"
    seen = [tick % 251 if tick < 3000 else (tick + 1) % 251 for tick in range(1, 9000)]
    wrong = [*seen[:8500], 255, *seen[8501:]]
    with LogWriter.open(path, "shed", 0) as log:
        for boot, each in enumerate(([tick % 251 for tick in range(1, 9000)], seen, wrong), 1):
            log.add_block(boot, 0, 1, each, each, [0] * len(each), 0)
    with LogReader.open(path) as reader:
        lines = Lines(Wiring())
        good, slipped, worse = (Part(boot, 0, 1, 8999) for boot in (1, 2, 3))
        assert diagnose_logged(reader, lines, good, slipped).explanations == (
            "a slip: from tick 3000 on it is the expectation moved by +1; 1 extra clock suspected",
        )
        assert not any("slip" in each for each in diagnose_logged(reader, lines, good, worse).explanations)
        assert diagnose_logged(reader, lines, good, good).compared == 8999
