"""Steps of a machine whose clock may not stop: by its ready line."""

from __future__ import annotations

from handtick.cli.common import Common
from handtick.cli.printer import Printer
from handtick.errors import UsageError
from handtick.quantities import rate_of, tick_of


def step(common: Common, count: str, by_ready: bool, others: bool, rate: str | None, then_run: bool) -> None:
    """Lets the machine be ready for some cycles, one at a time; starts the clock where it is at rest."""
    if not by_ready:
        raise UsageError("--rate and --then-run go with --by-ready; a plain step has a fixed width")
    if others:
        raise UsageError("--by-ready lets the machine go for whole cycles: beside it go --rate and --then-run only")
    cycles = tick_of(count, 1)
    wire_rate = rate_of(rate) if rate is not None else None
    printer = Printer(common.json, common.quiet)
    try:
        with common.open_bench(printer) as bench:
            assert bench.greeting is not None
            if wire_rate is not None and bench.greeting.fields["mode"] != "rest":
                raise UsageError(f"--rate {rate}: the clock runs already; leave this out")
            let_go = bench.step_by_ready(cycles, wire_rate)
            if then_run:
                bench.let_go()
            passed = sum(cycle.passed for cycle in let_go)
            words = f" and {passed} more that could not be held" if passed else ""
            plural = "" if len(let_go) == 1 else "s"
            state = "it runs on" if then_run else "it is held"
            printer.answer(
                f"the machine went {len(let_go)} cycle{plural}{words}; {state}",
                kind="done",
                command="step",
                cycles=len(let_go),
                passed=passed,
                held=not then_run,
            )
    finally:
        printer.close()
