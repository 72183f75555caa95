"""Brings the machine back to the same start, and makes the same run again."""

from __future__ import annotations

import subprocess
from collections.abc import Callable, Sequence

from handtick.bench import Bench
from handtick.errors import HandtickError, StartDiffers, StoppedEarly
from handtick.events import Tick
from handtick_wire import reasons

_SHORT = 60


class Repeat:
    """Repeats runs on one bench.

    Args:
        bench: the bench, open; its wiring says what the start takes.
        ask: asks the user to do something by hand, and returns when it is done.
    """

    def __init__(self, bench: Bench, ask: Callable[[str], object]) -> None:
        self._bench = bench
        self._start = bench.wiring.start
        self._ask = ask
        self._checked: bytes | None = None
        self._first: list[tuple[int, int]] | None = None

    def to_start(self) -> None:
        """Follows the reset recipe; the next tick is tick 1.

        Raises:
            HandtickError: a command of the recipe fails.
            StartDiffers: the memory check says something else than the first time.
        """
        if self._start.command:
            _run(self._start.command)
        if self._start.hand:
            self._ask(f"{self._start.hand}; then press Enter. ")
        self._bench.reset()
        if self._start.check:
            said = _run(self._start.check)
            if self._checked is not None and said != self._checked:
                raise StartDiffers(
                    f"the start differs: `{' '.join(self._start.check)}` says something else than the first time"
                )
            self._checked = said

    def run_to(self, tick: int, rate: str, same_start: bool = True) -> list[Tick]:
        """Goes back to the start and on to a tick; returns the ticks made.

        Raises:
            StoppedEarly: the clock stopped before.
            StartDiffers: the first ticks are not what they were the first time; ``same_start`` False does not look.
        """
        self.to_start()
        ticks = self._bench.advance(tick, rate)
        if same_start:
            self._look_at_start(ticks)
        return ticks

    def go_to(self, tick: int, rate: str) -> None:
        """Goes back to the start and on to a tick, however far, keeping none of the ticks made.

        Raises:
            StoppedEarly: the clock stopped before.
        """
        self.to_start()
        self._bench.ask("to", tick, rate, keep=False)

    def run_as_far(self, tick: int, rate: str, same_start: bool = True) -> tuple[list[Tick], StoppedEarly | None]:
        """As ``run_to``; where the machine halts before that tick, gives the ticks made, and how it stopped.

        Raises:
            StoppedEarly: it was stopped, and not by the machine.
            StartDiffers: see ``run_to``.
        """
        try:
            return self.run_to(tick, rate, same_start), None
        except StoppedEarly as stop:
            if stop.why != reasons.HALT_LINE:
                raise
            ticks = [event for event in self._bench.heard if isinstance(event, Tick)]
            if same_start:
                self._look_at_start(ticks)
            return ticks, stop

    def _look_at_start(self, ticks: Sequence[Tick]) -> None:
        first = [(tick.early, tick.late) for tick in ticks[: self._start.same]]
        if self._first is None:
            self._first = first
            return
        for place, (before, now) in enumerate(zip(self._first, first, strict=False)):
            if before != now:
                raise StartDiffers(
                    f"the start differs: tick {place + 1} was {before[0]:04X} before and is {now[0]:04X} now; what "
                    "else brings the machine to the same start? Say it under [start] in the wiring file"
                )


def _run(words: Sequence[str]) -> bytes:
    try:
        ended = subprocess.run(list(words), capture_output=True, check=False)
    except OSError as error:
        raise HandtickError(f"{words[0]}: can't be run: {(error.strerror or 'failed').lower()}") from error
    if ended.returncode != 0:
        said = ended.stderr.decode("utf-8", "replace").strip().splitlines()
        why = f": {said[-1][:_SHORT]}" if said else ""
        raise HandtickError(f"`{' '.join(words)}` ended with status {ended.returncode}{why}")
    return ended.stdout
