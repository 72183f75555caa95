"""`handtick wire`: the guided first wiring."""

from __future__ import annotations

import sys
from pathlib import Path

from handtick.cli.common import Common
from handtick.cli.printer import Printer
from handtick.errors import Refused, StoppedEarly, UsageError
from handtick.opening import DEFAULT_WIRING
from handtick.wiring import Wiring
from handtick.wiring.guide import Guide
from handtick.wiring.proof import prove_lines


def wire(common: Common) -> None:
    """Leads through the wiring and writes the file."""
    file = common.wiring or Path(DEFAULT_WIRING)
    if file.exists():
        raise UsageError(f"{file} is there already; move it away, or name another with --wiring FILE")
    if not file.parent.is_dir():
        raise UsageError(f"there is no folder {str(file.parent)!r} to write {file.name} in")
    printer = Printer(common.json, common.quiet, rows=False)
    with common.open_bench(printer, Wiring()) as bench:
        talk = Terminal()
        guide = Guide(bench, talk, file)
        guide.run()
        proven = prove_lines(bench, talk, guide.buses)
        printer.answer(
            f"{file}: {len(guide.buses)} names",
            kind="wiring",
            file=str(file),
            proven=proven,
            buses={bus.name: list(bus.probes) for bus in guide.buses},
        )
    if not proven:
        raise Refused(f"{file} is written, but the lines above are not proven; mend what they say and look again")


class Terminal:
    """A person at a terminal, or a script in a pipe. What is said goes beside the output."""

    def tell(self, text: str) -> None:
        """See ``Talk.tell``."""
        print(text, file=sys.stderr, flush=True)

    def ask(self, question: str) -> str:
        """See ``Talk.ask``."""
        print(question, end="", file=sys.stderr, flush=True)
        line = sys.stdin.readline()
        if not line:
            raise StoppedEarly("wire: the answers ended before the wiring did")
        return line.strip()
