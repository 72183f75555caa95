"""Opens a bench as the command line does: finds the board, its log and its wiring file."""

from __future__ import annotations

import functools
import time
from collections.abc import Callable
from os import PathLike
from pathlib import Path

from handtick.bench import Bench
from handtick.discovery import link_to
from handtick.errors import LogError, UsageError
from handtick.events import Event
from handtick.links.base import Link
from handtick.log import LogReader, LogWriter, accounted
from handtick.place import Place
from handtick.recorder import Recorder
from handtick.uninterrupted import uninterrupted
from handtick.wiring import Wiring, load_wiring
from handtick_board.pin_map import MOST_PROBES

DEFAULT_LOG = "handtick.sqlite3"
DEFAULT_WIRING = "wiring.toml"


def open_bench(
    board: str | None = None,
    log: str | PathLike[str] | None = DEFAULT_LOG,
    wiring: str | PathLike[str] | None = None,
    listener: Callable[[Event], None] | None = None,
) -> Bench:
    """Opens the bench; use it in a ``with`` block, or close it.

    Args:
        board: a port, ``socket://host:port``, ``virtual`` (the served virtual board or, where none is served, one that
            lives as long as this bench), or None for the one board there is.
        log: the tick log to add to, made where it is not there; None for none.
        wiring: the wiring file; None for ``wiring.toml`` where there is one.
        listener: called with every event, after it is logged.

    Raises:
        UsageError: several boards and none named, or a wiring file that can't be read.
        NoBoard: no board answers.
        LogError: the log can't be written, or belongs to another board.
    """
    known = find_wiring(wiring)
    return open_link(link_to(board), log, known, listener)


def open_link(
    link: Link,
    log: str | PathLike[str] | None,
    wiring: Wiring,
    listener: Callable[[Event], None] | None = None,
) -> Bench:
    """Opens a bench over a link that is open already; the link is closed where that fails."""
    try:
        earlier = functools.partial(last_accounted, log)
        bench = Bench(link, resume=last_accounted(log), listener=listener, wiring=wiring, earlier=earlier)
    except BaseException:
        link.close()
        raise
    try:
        greeting = bench.open()
        _check_probes(wiring, int(greeting.fields["probes"]))
        if log is not None:
            with uninterrupted():
                writer = LogWriter.open(log, str(greeting.fields["uid"]), time.time_ns())
                bench.log_to(Recorder(writer), writer.close)
        if wiring.clock is not None:
            clock = wiring.clock
            bench.ask("limits", clock.may_stop, clock.longest_high_us, clock.longest_low_us)
    except BaseException:
        bench.abandon()
        raise
    return bench


def find_wiring(given: str | PathLike[str] | None) -> Wiring:
    """The wiring file given; else ``wiring.toml`` where there is one; else bare probes."""
    if given is not None:
        return load_wiring(given)
    return load_wiring(DEFAULT_WIRING) if Path(DEFAULT_WIRING).exists() else Wiring()


def _check_probes(wiring: Wiring, count: int) -> None:
    """Refuses a wiring file that names a probe on a chain that the board does not have."""
    there = max(count, MOST_PROBES)
    for bus in wiring.buses:
        if max(bus.probes) >= there:
            raise UsageError(
                f"wiring file {wiring.path!r}: {bus.name} is on probe {max(bus.probes)}, and this board has probes 0 "
                f'to {there - 1}; more take HANDTICK_PROFILE = "chain" and HANDTICK_CHAIN, the number of its chips'
            )


def last_accounted(log: str | PathLike[str] | None, boot: int | None = None) -> Place | None:
    """How far a log accounts for ticks, so that what came after is missed; None where it has none yet.

    Args:
        log: the log.
        boot: of which start of the board; None for the one that was heard last.
    """
    if log is None:
        return None
    try:
        with uninterrupted(), LogReader.open(log) as reader:
            return accounted(reader, boot)
    except LogError:
        # Not there yet; or not to be read, which opening it for writing will say.
        return None
