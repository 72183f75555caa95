"""The board's clock line on PIO, with its state machine on the emulators: counts agree with the edges on the pin."""

from __future__ import annotations

import array
import itertools
import random

import pytest

from handtick_board.pio_line import PioLine

from .bench import Bench
from .emulators import PioemuBench, Rp2040pyBench
from .hand import Wiring, check_lines
from .stand_in import Rp2pio
from .wirings import SOME

_SETTINGS = {
    "frequency": 0,
    "sideset_enable": True,
    "auto_push": True,
    "push_threshold": 16,
    "in_shift_right": False,
    "wait_for_txstall": False,
    "mov_status_type": "txfifo",
    "mov_status_n": 1,
}


def line_on(kind: type[Bench], wiring: Wiring, rng: random.Random) -> tuple[PioLine, Rp2pio]:
    """A line that is at rest, and the module that its machine is from."""
    program = wiring.program()
    rp2pio = Rp2pio(kind, program, rng, 400)
    halt_pin = None if wiring.halt == "none" else "halt"
    line = PioLine(rp2pio, program, "clock", halt_pin, None, "probes", 125_000_000, wiring.inverted)
    rp2pio.machine.bench.halt = int(wiring.halt == "low")
    rp2pio.machine.bench.run(4)
    return line, rp2pio


@pytest.mark.parametrize("wiring", SOME, ids=str)
def test_machine_is_set_up_as_it_was_proven(wiring: Wiring) -> None:
    """The board sets its state machine up as the bench does, on which everything else is shown."""
    program = wiring.program()
    _, rp2pio = line_on(Rp2040pyBench, wiring, random.Random(1))
    expected = {
        **_SETTINGS,
        "sideset_pin_count": program.pins,
        "initial_sideset_pin_state": program.rest,
        "wrap_target": program.wrap_target,
        "wrap": program.wrap,
    }
    assert {name: rp2pio.settings[name] for name in expected} == expected


@pytest.mark.parametrize(("kind", "rounds"), [(Rp2040pyBench, 25), (PioemuBench, 8)], ids=["rp2040py", "pioemu"])
@pytest.mark.parametrize("wiring", SOME, ids=str)
def test_ticks_told_are_edges_made(kind: type[Bench], rounds: int, wiring: Wiring) -> None:
    """Whatever bursts, halves, halts and requests to rest come, the line tells as many ticks as there are edges."""
    rng = random.Random(str(wiring))
    line, rp2pio = line_on(kind, wiring, rng)
    bench = rp2pio.machine.bench
    quiet = bench.halt
    made, asked = 0, {}
    for _ in range(rounds):
        if rng.random() < 0.3:
            # Made ready for a press that did not come.
            line.load(1, *line.least(True), array.array("H", [0, 0]))
        if rng.random() < 0.2:
            # By hand a phase is as long as the board's calls take.
            line.value = not wiring.inverted
            line.value = wiring.inverted
            made += 1
            continue
        traced = rng.random() < 0.5
        count, (lead, trail) = rng.randint(1, 40), line.least(traced)
        lead, trail = lead + rng.randint(0, 20), trail + rng.randint(0, 20)
        memory = array.array("H", [0] * (2 * count))
        bench.probes = rng.randrange(1 << 16)
        line.load(count, lead, trail, memory if traced else None)
        line.go()
        for _ in range(rng.randint(0, 2)):
            line.end()
        bench.halt = 1 - quiet if rng.random() < 0.3 else quiet
        for _ in range(200):
            if not line.busy:
                break
        assert not line.busy
        bench.halt = quiet
        ticks = count - line.finish()
        asked.update(dict.fromkeys(range(made, made + ticks), (lead, trail)))
        made += ticks
        filled = 2 * ticks if traced and wiring.probes else 0
        assert list(memory) == [bench.probes] * filled + [0] * (2 * count - filled)
    bench.run(4)
    lengths = [len(list(run)) for _, run in itertools.groupby(level & 1 for level in bench.levels)][1:-1]
    assert len(lengths) == 2 * made - 1
    # The last tick's trailing phase has no end yet.
    phases = list(itertools.zip_longest(lengths[0::2], lengths[1::2], fillvalue=1000))
    assert all(phases[tick][0] == lead and phases[tick][1] >= trail for tick, (lead, trail) in asked.items())
    check_lines(bench.levels, wiring, by_hand=True)


@pytest.mark.parametrize("kind", [Rp2040pyBench, PioemuBench], ids=["rp2040py", "pioemu"])
@pytest.mark.parametrize("wiring", [wiring for wiring in SOME if wiring.halt != "none"], ids=str)
@pytest.mark.parametrize("traced", [False, True])
@pytest.mark.parametrize("halts", [False, True])
def test_halt_in_the_last_tick_of_a_burst_is_told(kind: type[Bench], wiring: Wiring, traced: bool, halts: bool) -> None:
    """All ticks were made either way; whether another one may follow is another matter."""
    line, rp2pio = line_on(kind, wiring, random.Random(1))
    bench = rp2pio.machine.bench
    lead, trail = line.least(traced)
    memory = array.array("H", [0] * 6)
    for _ in range(2):
        line.load(3, lead + 400, trail + 400, memory if traced else None)
        line.go()
        begun = edges(bench) + 3
        while edges(bench) < begun:
            bench.run(50)
        bench.halt ^= halts
        while line.busy:
            pass
        assert (line.finish(), line.stopped) == (0, halts)
        bench.halt ^= halts


def edges(bench: Bench) -> int:
    """Leading edges of the clock pin so far, away from the level at which it began."""
    levels = [level & 1 for level in bench.levels]
    return sum(before == levels[0] != after for before, after in itertools.pairwise(levels))
