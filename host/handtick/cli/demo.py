"""`handtick demo`: Larch, the built-in machine, stepped through its program, every tick shown and logged."""

from __future__ import annotations

import time
from pathlib import Path

from handtick.bench import Bench
from handtick.cli.common import Common
from handtick.cli.table import Columns
from handtick.errors import LogError, UsageError
from handtick.events import Event, ResetDone, State, Tick
from handtick.links.virtual import VirtualLink
from handtick.log import LogReader, LogWriter
from handtick.recorder import Recorder
from handtick.virtual.board import VirtualBoard
from handtick.virtual.larch import Larch
from handtick.virtual.larch_code import decode_step
from handtick.virtual.rain_tally import RAIN_TALLY
from handtick_wire import reasons
from handtick_wire.described import sentence

# How the tick button's contact really moves: (microseconds, closed). Each train is one press.
PRESSES = (
    ((0, 1), (180, 0), (300, 1), (420, 0), (700, 1), (120_000, 0), (120_210, 1), (120_350, 0)),
    ((0, 1), (90, 0), (160, 1), (210, 0), (640, 1), (95_000, 0), (97_500, 1), (97_900, 0), (103_000, 1), (103_600, 0)),
    ((0, 1), (400, 0), (600, 1), (140_000, 0), (140_300, 1), (140_500, 0)),
    ((0, 1), (60, 0), (75, 1), (1400, 0), (1650, 1), (80_000, 0), (86_000, 1), (86_120, 0), (91_000, 1), (91_200, 0)),
)
_PRESS_EVERY_US = 450_000
_RATE = "25"
DEMO_LOG = "demo.sqlite3"
_QUIET_S = 5.0

_COLUMNS = Columns(("tick", "giver", "taker", "before", "after", "what the tick does"), (5, -8, -15, 6, 5, -1))


def demo(common: Common, quick: bool) -> None:
    """Runs the demonstration, unless more is asked of it than it has a use for."""
    given = [f"--{name}" for name in ("board", "wiring", "json", "quiet") if getattr(common, name)]
    if given:
        raise UsageError(
            f"{given[0]}: the demonstration clocks its own machine and prints for people; it takes --log and --quick"
        )
    run_demo(common.log or Path(DEMO_LOG), quick)


def run_demo(log_path: Path, quick: bool) -> None:
    """Steps Larch through the rain tally and prints what happened.

    Args:
        log_path: the log to write; a log of earlier demonstrations is added to.
        quick: whether to go as fast as it can instead of at a pace for people.
    """
    larch = Larch(RAIN_TALLY)
    board = VirtualBoard(larch, boot=_next_boot(log_path))
    link = VirtualLink(board, paced=not quick)
    story = _Story()
    with LogWriter.open(log_path, "virtual-bench", time.time_ns()) as log:
        with Bench(link, Recorder(log), listener=story.take) as bench:
            print("Larch is reset; then its tick button is pressed four times. Its contact bounces, as contacts do:")
            print("one press must be one tick.\n")
            print(_COLUMNS.heading())
            bench.reset()
            first_us = board.now_us + _PRESS_EVERY_US // 2
            for place, train in enumerate(PRESSES):
                board.press(train, first_us + place * _PRESS_EVERY_US)
            bench.listen_until(lambda: story.ticks == len(PRESSES), _QUIET_S)
            bench.listen(0.3)
            closures = sum(closed for train in PRESSES for _, closed in train)
            print(f"       {len(PRESSES)} presses, in which the contact closed {closures} times: {story.ticks} ticks.")
            print(f"       Now the clock runs by itself, at {_RATE} ticks a second.")
            bench.run(_RATE)
            bench.listen_until(lambda: story.stopped != "", _QUIET_S)
        edges = len(board.rising_edges_us)
        lamp = "lit: a wet week" if larch.lamp else "dark: a dry week"
    print()
    if story.stopped != reasons.HALT_LINE:
        raise SystemExit(f"handtick: the demonstration ended otherwise than it should: {sentence(story.stopped)}")
    print(f"Larch halted at tick {story.tick}: {sentence(story.stopped)}. Its lamp is {lamp}.")
    print(f"The clock line made {edges} rising edges: {story.in_reset} under reset and {story.tick} counted ticks.")
    print(f"Every tick is in the log {log_path}; look into it with: handtick log show --log {log_path}")


class _Story:
    """Prints events as they come and remembers how it ended."""

    def __init__(self) -> None:
        self.ticks = 0
        self.tick = 0
        self.in_reset = 0
        self.stopped = ""
        self._started = False

    def take(self, event: Event) -> None:
        """Prints one event."""
        if isinstance(event, Tick):
            self._tick(event)
        elif isinstance(event, ResetDone):
            self._started = True
        elif isinstance(event, State) and event.mode == "rest" and event.asked.startswith("run"):
            self.stopped = event.why

    def _tick(self, event: Tick) -> None:
        if not self._started:
            self.in_reset += 1
            return
        self.ticks += 1
        self.tick = event.tick
        step = decode_step(event.early)
        before, after = event.early & 0xFF, event.late & 0xFF
        print(_COLUMNS.row(event.tick, step.giver, step.taker, f"{before:02X}", f"{after:02X}", step.text), flush=True)


def _next_boot(log_path: Path) -> int:
    """A boot number that the log does not have yet: each demonstration is a fresh start of the board."""
    try:
        with LogReader.open(log_path) as log:
            return max((greeting.boot for greeting in log.greetings()), default=0) + 1
    except LogError:
        # Not there yet, or no log at all: opening it for writing says which.
        return 1
