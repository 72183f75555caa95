"""`handtick edges`: whether every clock edge arrives once at the far end of the wire."""

from __future__ import annotations

from collections.abc import Callable

from handtick.bench import Bench
from handtick.cli.common import Common
from handtick.cli.printer import Printer
from handtick.cli.searching import made_of, searching
from handtick.cli.table import Columns
from handtick.edges import Burst, advice, board_counter, bus_counter, count_edges
from handtick.errors import Differs, UsageError
from handtick.quantities import rate_of, tick_of

_ROWS = Columns(("rate (Hz)", "sent", "seen", ""), (12, 8, 8, -1))
_MOST_MARKS = 40


def edges(common: Common, count: str, rates: str, bus: str | None, at: str | None) -> None:
    """Makes bursts, counts what arrives, and says what to try where that differs."""
    sent = tick_of(count, 1)
    wanted = [rate_of(each) for each in rates.split(",")]
    with searching(common) as (bench, printer):
        counter, modulus = _counter(bench, bus, sent)
        fit = made_of(bench, printer, wanted)
        bench.reset()
        bursts = count_edges(bench, counter, fit, sent, modulus)
        where = f"at {at}" if at is not None else "at the far end"
        _tell(printer, common.json, bursts, where)
        wrong = [burst for burst in bursts if not burst.good]
        result = "; ".join(f"{burst.sent} sent, {burst.seen} seen at {burst.rate_hz} Hz" for burst in bursts)
        bench.note(f"edges {where}, wiring {bench.wiring.path or 'without a file'}: {result}")
        if wrong:
            first = wrong[0]
            raise Differs(f"{where}: {first.sent} edges sent, {first.seen} seen at {first.rate_hz} Hz")


def _counter(bench: Bench, name: str | None, sent: int) -> tuple[Callable[[], int], int | None]:
    if name is None:
        return board_counter(bench), None
    try:
        bus = bench.wiring.bus(name)
    except KeyError:
        names = ", ".join(each.name for each in bench.wiring.buses) or "none"
        raise UsageError(f"--bus {name}: the wiring file names no such bus; it names {names}") from None
    modulus = 1 << bus.width
    if sent > modulus // 2:
        raise UsageError(f"--count {sent}: {name} begins anew after {modulus}; send half of that at most")
    return bus_counter(bench, bus), modulus


def _tell(printer: Printer, as_json: bool, bursts: list[Burst], where: str) -> None:
    if not as_json:
        printer.answer(_ROWS.heading())
    for burst in bursts:
        printer.answer(
            _ROWS.row(burst.rate_hz, burst.sent, burst.seen, _marks(burst)),
            kind="edges",
            where=where,
            rate_hz=burst.rate_hz,
            sent=burst.sent,
            seen=burst.seen,
        )
    found = advice(bursts)
    if not found:
        printer.answer(f"{where} every edge arrived once", kind="advised", advice=[])
        return
    steps = "\n".join(f"  {place}. {each}" for place, each in enumerate(found, 1))
    printer.answer(f"try in this order, and count again after each:\n{steps}", kind="advised", advice=list(found))


def _marks(burst: Burst) -> str:
    """An edge a mark: | sent and seen, + seen and not sent, . sent and not seen."""
    if max(burst.sent, burst.seen) > _MOST_MARKS or burst.seen < 0:
        return "" if burst.good else f"{burst.seen - burst.sent:+d}"
    both = min(burst.sent, burst.seen)
    return "|" * both + "+" * (burst.seen - both) + "." * (burst.sent - both)
