"""The firmware on the real CircuitPython, on an emulated board: from a press or a command to the edge, and to the log.

Usage: ``python -m benchmarks.emulated UF2``, with a CircuitPython 10 image for the Raspberry Pi Pico.
"""

from __future__ import annotations

import datetime
import random
import statistics
import sys
import tempfile
from pathlib import Path

from tests.emulated.conftest import firmware_files
from tests.emulated.emulated_board import EmulatedBoard

from benchmarks import page
from benchmarks.__main__ import PAGE
from benchmarks.rows import Row, per_second
from handtick.bench import Bench
from handtick.events import Event, Tick
from handtick.log import LogReader
from handtick.opening import open_link
from handtick.wire_reader import TICK_BYTES
from handtick.wiring import Wiring

TITLE = "The firmware"
NOTE = (
    "Times are those of the emulated board. The bare port is a program of five lines that sends as many bytes as it "
    "can, on the same emulator in the same run. The emulator's USB takes no time of its own: the share is that of the "
    "firmware's work alone."
)
_TRIES = 12
_BACKLOG_TRIES = 6
_BACKLOG = 4000
_BURST = 92_160
_BURST_HZ = "400000"
_MANY = 100_000
_TEXT_TICKS = 200
_PRESS_US = 100
_BARE = b"""
import usb_cdc
port, block = usb_cdc.data, bytes(range(256)) * 16
while True:
    port.write(block)
"""
_BARE_START_S = 4.0
_BARE_S = 0.3


def main(image: Path) -> int:
    """Measures, prints and writes the page."""
    rows = _rows(image)
    page.show(f"{TITLE}, on the emulated board", rows)
    where = f"On {datetime.date.today()}, Raspberry Pi Pico, modules from source.\n"
    page.put(PAGE, "the emulated board", f"{where}\n{page.section(TITLE, NOTE, rows)}")
    return 0


def _rows(image: Path) -> list[Row]:
    bare = _bare_port(image)
    board = _started(image, firmware_files())
    with tempfile.TemporaryDirectory() as folder:
        log = Path(folder) / "log.sqlite3"
        with open_link(board, log, Wiring()) as bench:
            rows = [
                _times("press to edge, beyond the press time", _presses(board, bench), "median 1 ms"),
                _times(f"the same while {_BACKLOG} ticks go out", _presses_in_backlog(board, bench), "worst 5 ms"),
                _times("a `step` sent to the edge", _commands(board, bench), ""),
                _steps(board, bench),
                _lines(board, bench),
                _waiting_lines(board, bench),
                _blocks(board, bench, bare / TICK_BYTES),
            ]
            rows.append(_heap(board, bench))
            made = bench.tick
        with LogReader.open(log) as reader:
            logged = sum(1 for _ in reader.all_ticks())
        assert logged == made, f"{logged} of {made} ticks reached the log"
    return rows


def _started(image: Path, files: dict[str, bytes]) -> EmulatedBoard:
    board = EmulatedBoard(image, files)
    board.run_until(lambda: "handtick: ready" in board.console, 12)
    return board


def _bare_port(image: Path) -> float:
    """Bytes a second that the data port carries, with nothing else to do."""
    board = EmulatedBoard(image, {"boot.py": firmware_files()["boot.py"], "code.py": _BARE})
    # It is under way before the console is open: that it sends is how one knows.
    board.run(_BARE_START_S)
    board.set_open(True)
    assert board.read(1.0), "nothing came from the bare port"
    began_ns, count = board.now_ns, 0
    while board.now_ns < began_ns + _BARE_S * 1e9:
        count += len(board.read(0.01))
    return count / (board.now_ns - began_ns) * 1e9


def _presses(board: EmulatedBoard, bench: Bench) -> list[float]:
    """Milliseconds from a contact that stays closed to the rising edge, less the press time."""
    chance, found = random.Random(1), []
    for _ in range(_TRIES):
        # The loop is anywhere in its round.
        board.run(0.08 + chance.random() / 50)
        found.append(_press(board, bench, 0.001, 25_000))
    return found


def _presses_in_backlog(board: EmulatedBoard, bench: Bench) -> list[float]:
    """The same, a few milliseconds after the host goes on reading: samples of many ticks wait."""
    found = []
    for number in range(_BACKLOG_TRIES):
        bench.send("burst", _BACKLOG, "100000")
        board.run(0.002)
        board.set_reading(False)
        board.run(0.2)
        board.set_reading(True)
        found.append(_press(board, bench, 0.003 + number * 0.00137, 2_000))
        # All of it has come before the next.
        while bench.status().fields["waiting"]:
            board.run(0.01)
    return found


def _press(board: EmulatedBoard, bench: Bench, in_s: float, held_us: int) -> float:
    """Milliseconds from a contact that closes in so many seconds to its tick's edge, less the press time."""
    began_ns, before = board.now_ns, len(board.rising_ns)
    board.press([(0, 1), (held_us, 0)], in_s)
    bench.listen(0.001)
    board.run(0.08)
    (edge_ns,) = board.rising_ns[before:]
    return float(edge_ns - began_ns) / 1e6 - in_s * 1e3 - _PRESS_US / 1000


def _commands(board: EmulatedBoard, bench: Bench) -> list[float]:
    """Milliseconds from a command's bytes at the port to the rising edge."""
    found = []
    for _ in range(_TRIES):
        began_ns, before = board.now_ns, len(board.rising_ns)
        bench.step(1)
        found.append((board.rising_ns[before] - began_ns) / 1e6)
    return found


def _steps(board: EmulatedBoard, bench: Bench) -> Row:
    """A step of many ticks; their width, twice 1 ms, allows 500 a second."""
    began_ns = board.now_ns
    bench.ask("step", _TEXT_TICKS)
    rate = _TEXT_TICKS / (board.now_ns - began_ns) * 1e9
    return Row(f"`step {_TEXT_TICKS}`, told and logged", per_second(rate), "its phases: 500 ticks/s", rate / 500, 1)


def _lines(board: EmulatedBoard, bench: Bench) -> Row:
    """Ticks after each of which a stop rule is judged: made one by one, and told as a line each."""
    bench.ask("stop_when", "N1,T=999999999")
    began_ns = board.now_ns
    bench.ask("burst", _TEXT_TICKS, "1000")
    rate = _TEXT_TICKS / (board.now_ns - began_ns) * 1e9
    bench.ask("stop_when", "none")
    return Row("ticks judged one by one, a line each, logged", per_second(rate), runs=1)


def _waiting_lines(board: EmulatedBoard, bench: Bench) -> Row:
    """Lines that waited because the host did not read, with the clock at rest."""
    heard: list[Event] = []
    bench.ask("stop_when", "N1,T=999999999")
    bench.send("burst", _TEXT_TICKS, "1000")
    board.run(0.002)
    board.set_reading(False)
    board.run(_TEXT_TICKS / 100)
    board.set_reading(True)
    began_ns = board.now_ns
    while sum(isinstance(event, Tick) for event in heard) < _TEXT_TICKS:
        heard += bench.listen(0.002)
    rate = _TEXT_TICKS / (board.now_ns - began_ns) * 1e9
    bench.ask("stop_when", "none")
    return Row("lines that waited, at rest, logged", per_second(rate), runs=1, aim="1,000 ticks/s")


def _heap(board: EmulatedBoard, bench: Bench) -> Row:
    """What is free before and after very many ticks with samples; a press has the board tidy its memory."""
    free = []
    for ticks in (0, _MANY):
        if ticks:
            bench.ask("burst", ticks, _BURST_HZ, keep=False)
        _press(board, bench, 0.001, 25_000)
        free.append(bench.status().fields["heap_free"])
    before, after = free
    return Row(f"heap free after {_MANY:,} ticks more", f"{after} bytes", f"before: {before} bytes", runs=1)


def _blocks(board: EmulatedBoard, bench: Bench, bare: float) -> Row:
    bench.ask("samples", "all")
    began_ns = board.now_ns
    bench.ask("burst", _BURST, _BURST_HZ, keep=False)
    rate = _BURST / (board.now_ns - began_ns) * 1e9
    return Row(
        "blocks, both samples, told and logged",
        per_second(rate),
        f"the bare port: {per_second(bare)}",
        rate / bare,
        1,
        "0.8 or more",
    )


def _times(what: str, values_ms: list[float], aim: str) -> Row:
    spread = f"least {min(values_ms):.1f} ms, most {max(values_ms):.1f} ms"
    return Row(what, f"{statistics.median(values_ms):.1f} ms", spread, runs=len(values_ms), aim=aim)


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1])))
