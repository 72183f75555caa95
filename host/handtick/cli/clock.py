"""Commands that move the clock."""

from __future__ import annotations

import contextlib
import sys
import time
from collections.abc import Callable, Iterator
from decimal import Decimal
from typing import Any

from handtick.bench import Bench
from handtick.cli.common import Common
from handtick.cli.printer import Printer
from handtick.errors import StoppedEarly, UsageError
from handtick.events import Event, State
from handtick.quantities import extent_of, rate_of, samples_of, tick_of
from handtick.rules import Rule, read_rule
from handtick.stopping import Stop, run_until
from handtick_wire import reasons
from handtick_wire.described import sentence

# From so many ticks on, a person gets a progress bar in place of rows.
_MANY = 200
_LISTEN_S = 0.1


def step(
    common: Common,
    count: str,
    half: bool,
    instruction: bool,
    microstep: bool,
    stop_when: str | None = None,
    ignore_halt: str | None = None,
    trigger: str | None = None,
) -> None:
    """Steps ticks, half a tick, or to the next instruction or step within one."""
    if sum([half, instruction, microstep]) > 1:
        raise UsageError("--half, --instruction and --microstep are three different steps; give one of them")
    if (half or instruction or microstep) and count != "1":
        raise UsageError(f"{count}: a number of ticks does not go with --half, --instruction or --microstep")
    if stop_when is not None and (half or instruction or microstep):
        raise UsageError("--stop-when goes with a number of ticks, not with --half, --instruction or --microstep")
    ticks = tick_of(count, 1)
    rule = _rule(common, stop_when)
    ignored, marked = _ignored(ignore_halt), _marked(trigger)
    with _driving(common) as (bench, printer):
        _prepare(bench, "auto", ignored, marked)
        if rule is not None:
            _until(bench, printer, "step", rule, ticks, None)
            return
        if half:
            bench.half()
        elif instruction or microstep:
            _step_on(bench, instruction)
        else:
            _ended(bench, lambda: bench.ask("step", ticks, keep=False))
        _tell(bench, printer, "step")


def run(
    common: Common,
    rate: str,
    extent: str | None,
    stop_when: str | None = None,
    expect: str | None = None,
    samples: str = "auto",
    ignore_halt: str | None = None,
    trigger: str | None = None,
) -> None:
    """Runs at a rate: so many ticks, so long, or until halted."""
    which, ignored, marked = samples_of(samples), _ignored(ignore_halt), _marked(trigger)
    wire_rate = rate_of(rate)
    length = extent_of(extent) if extent is not None else None
    rule = _rule(common, stop_when)
    if (rule is not None or expect is not None) and isinstance(length, float):
        raise UsageError(f"--for {extent}: with --stop-when and --expect, give ticks")
    if rule is not None and expect is not None:
        raise UsageError("--stop-when and --expect are two ways to rest; give one of them")
    if expect is not None:
        from handtick.cli.lockstep import follow

        follow(common, wire_rate, int(length) if length is not None else None, expect)
        return
    many = isinstance(length, int) and length > _MANY
    with _driving(common, rows=not (many and sys.stdout.isatty())) as (bench, printer):
        _prepare(bench, which, ignored, marked)
        clocked = _Clocked(bench)
        if rule is not None:
            assert not isinstance(length, float)
            _until(bench, printer, "run", rule, length, wire_rate)
            return
        if isinstance(length, int):
            with _progress(common, bench, length):
                _ended(bench, lambda: bench.ask("burst", length, wire_rate, keep=False))
            _tell(bench, printer, "run", timing=clocked.told(wire_rate))
            return
        watch = _Watch(bench)
        _ended(bench, lambda: bench.run(wire_rate))
        interrupted = _listen_for(bench, watch, length)
        stopped = watch.stopped
        if not stopped:
            _halt_now(bench)
        _tell(bench, printer, "run", stopped or reasons.HALTED, clocked.told(wire_rate))
        # A run without a length ends well however it ends.
        if length is not None and (stopped or interrupted):
            why = sentence(stopped) if stopped else "interrupted"
            raise StoppedEarly(f"run: stopped at tick {bench.tick}: {why}")


def to(
    common: Common,
    tick: str,
    rate: str | None,
    stop_when: str | None = None,
    samples: str = "auto",
    ignore_halt: str | None = None,
    trigger: str | None = None,
) -> None:
    """Advances to a tick."""
    which, ignored, marked = samples_of(samples), _ignored(ignore_halt), _marked(trigger)
    target = tick_of(tick)
    rule = _rule(common, stop_when)
    wire_rate = rate_of(rate) if rate is not None else None
    with _driving(common, rows=not sys.stdout.isatty()) as (bench, printer):
        assert bench.greeting is not None
        _prepare(bench, which, ignored, marked)
        clocked = _Clocked(bench)
        wire_rate = wire_rate or str(bench.greeting.fields["top_rate"])
        if rule is not None and target > bench.tick:
            _until(bench, printer, "to", rule, target - bench.tick, wire_rate)
            return
        there = target == bench.greeting.tick
        with _progress(common, bench, max(0, target - bench.greeting.tick)):
            _ended(bench, lambda: bench.ask("to", target, wire_rate, keep=False))
        if there and not printer.ticks:
            printer.answer(f"already there: tick {target}", **_answer("to", bench))
        else:
            _tell(bench, printer, "to", timing=clocked.told(wire_rate))


def halt(common: Common) -> None:
    """Halts."""
    with _driving(common) as (bench, printer):
        bench.halt()
        _tell(bench, printer, "halt")


def reset(common: Common) -> None:
    """Resets the machine."""
    with _driving(common, rows=False) as (bench, printer):
        bench.reset()
        printer.answer(
            f"the machine has been reset; the next tick is tick 1 (edge count {bench.edges})", **_answer("reset", bench)
        )


class _Watch:
    """Notes why the clock came to rest."""

    def __init__(self, bench: Bench) -> None:
        self.stopped = ""
        bench.also(self._take)

    def _take(self, event: Event) -> None:
        if isinstance(event, State) and event.mode == "rest":
            self.stopped = event.why


class _Clocked:
    """Notes the rate that the clock gave, and how long it ran, by the board's own time."""

    def __init__(self, bench: Bench) -> None:
        self._given = Decimal(0)
        self._began_us: int | None = None
        self._took_us = 0
        bench.also(self._take)

    def told(self, asked: str) -> dict[str, Any]:
        """What it noted: the rates asked and given in hertz, and seconds."""
        return {"asked_hz": float(asked), "given_hz": float(self._given), "seconds": self._took_us / 1e6}

    def ticks_a_second(self, ticks: int) -> float:
        """The rate that so many ticks in that time make; 0 where there was no time."""
        return ticks * 1e6 / self._took_us if self._took_us else 0.0

    def _take(self, event: Event) -> None:
        if isinstance(event, State):
            if event.mode == "moving":
                self._given = Decimal(event.rate)
                self._began_us = event.time_us if self._began_us is None else self._began_us
            elif self._began_us is not None:
                self._took_us = event.time_us - self._began_us


def _ignored(text: str | None) -> int:
    """For how many ticks to go past the halt line."""
    return 0 if text is None else tick_of(text, 1)


def _marked(text: str | None) -> int:
    """For which tick the trigger is to stand high; 0 for none."""
    return 0 if text is None else tick_of(text, 1)


def _prepare(bench: Bench, samples: str, ignored: int, marked: int) -> None:
    if marked:
        bench.ask("trigger", marked)
    if samples != "auto":
        bench.ask("samples", samples)
    if ignored:
        bench.ask("ignore_halt", ignored)


def _rule(common: Common, text: str | None) -> Rule | None:
    """The stop rule, read with the names of the wiring file."""
    return None if text is None else read_rule(text, common.find_wiring())


def _until(bench: Bench, printer: Printer, command: str, rule: Rule, most: int | None, rate: str | None) -> None:
    """Makes ticks until the rule holds, and says where that is and who judged it."""
    found: list[Stop] = []
    clocked, first = _Clocked(bench), bench.edges
    _ended(bench, lambda: found.append(run_until(bench, rule, most, rate)))
    (stop,) = found
    before = ", before the edge that would capture it" if rule.early else ""
    # A tick at a time, so slower than was asked for at speed: said as it was.
    made = clocked.ticks_a_second(bench.edges - first)
    speed = f", {made:.4g} ticks a second" if made else ""
    printer.answer(
        f"at tick {stop.tick}{before}: {rule.text} (judged {stop.judged}{speed}); edge count {bench.edges}",
        **_answer(command, bench, reasons.RULE),
        rule=rule.text,
        judged=stop.judged,
        made_hz=made,
    )


def _listen_for(bench: Bench, watch: _Watch, seconds: float | None) -> bool:
    """Listens so long or, with None, until the clock stops; returns whether the user cut it short."""
    until = None if seconds is None else time.monotonic() + seconds
    try:
        while not watch.stopped:
            left_s = _LISTEN_S if until is None else until - time.monotonic()
            if left_s <= 0:
                break
            bench.listen(min(_LISTEN_S, left_s))
    except KeyboardInterrupt:
        return True
    return False


@contextlib.contextmanager
def _driving(common: Common, rows: bool = True) -> Iterator[tuple[Bench, Printer]]:
    """The bench, open while the block runs."""
    printer = Printer(common.json, common.quiet, rows)
    try:
        with common.open_bench(printer) as bench:
            yield bench, printer
    finally:
        printer.close()


def _step_on(bench: Bench, instruction: bool) -> None:
    """Steps until the next tick would begin an instruction, or is another step within one."""
    rule = bench.wiring.instruction
    if rule is None:
        raise UsageError("the wiring file does not say where an instruction begins; give it a table [instruction]")
    for _ in range(rule.longest):
        ticks = bench.step(1)
        if not ticks:
            raise StoppedEarly("step: the tick's samples did not arrive, so nobody knows where in an instruction it is")
        if not instruction or bench.wiring.begins_instruction(ticks[-1].late):
            return
    raise StoppedEarly(f"step: no instruction began within {rule.longest} ticks; the wiring file's `longest` says so")


def _ended(bench: Bench, deed: Callable[[], object]) -> None:
    """Does it; where the user interrupts, halts at a tick boundary and says where."""
    try:
        deed()
    except KeyboardInterrupt:
        _halt_now(bench)
        raise StoppedEarly(f"interrupted: the clock rests at tick {bench.tick}") from None


def _halt_now(bench: Bench) -> None:
    """Halts; whoever interrupts that too does not want to wait until a slow clock rests."""
    try:
        bench.halt()
    except KeyboardInterrupt:
        raise StoppedEarly(
            f"interrupted twice: the clock may still have been moving at tick {bench.tick}; "
            "`handtick status` says where it rests"
        ) from None


@contextlib.contextmanager
def _progress(common: Common, bench: Bench, ticks: int) -> Iterator[None]:
    """A progress bar where a person watches and there is much to wait for."""
    if ticks <= _MANY or common.json or common.quiet or not sys.stdout.isatty():
        yield
        return
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TimeRemainingColumn

    with Progress(BarColumn(), MofNCompleteColumn(), "ticks", TimeRemainingColumn(), transient=True) as bar:
        task = bar.add_task("", total=ticks)
        bench.also(lambda event: bar.advance(task) if event.__class__.__name__ == "Tick" else None)
        yield


def _tell(bench: Bench, printer: Printer, command: str, why: str = "", timing: dict[str, Any] | None = None) -> None:
    reason = f": {sentence(why)}" if why else ""
    text = f"at tick {bench.tick}, edge count {bench.edges}{reason}{_in_words(timing or {})}"
    printer.answer(text, **_answer(command, bench, why), **(timing or {}))


def _in_words(timing: dict[str, Any]) -> str:
    """How long it took, and the rate where that is not the one asked for."""
    if not timing or not timing["given_hz"]:
        return ""
    given, asked = timing["given_hz"], timing["asked_hz"]
    off = f" at {given:.10g} Hz ({asked:.10g} Hz asked)" if abs(given - asked) > asked / 1e4 else ""
    return f"; {timing['seconds']:.6f} s{off}"


def _answer(command: str, bench: Bench, why: str = "") -> dict[str, Any]:
    assert bench.greeting is not None
    return {
        "kind": "done",
        "command": command,
        "boot": bench.greeting.boot,
        "reset": bench.reset_number,
        "tick": bench.tick,
        "edges": bench.edges,
        **({"why": why} if why else {}),
    }
