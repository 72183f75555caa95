"""Records the raw contact of the tick button from a board, edge by edge, with the board's own times."""

from __future__ import annotations

from collections.abc import Callable

from handtick.bench import Bench
from handtick.bounce.analysis import APART_US, presses_of
from handtick.bounce.train import QUIET_US, Train
from handtick.errors import StoppedEarly
from handtick.events import Contact, Damage

_READ_S = 0.25
#: How long nobody may press before the recording is given up, in seconds.
PATIENCE_S = 60.0


def record_presses(bench: Bench, presses: int, told: Callable[[int], object], patience_s: float = PATIENCE_S) -> Train:
    """Records until so many presses are over, or until Ctrl-C those that are; times count from the beginning of the
    recording.

    Args:
        bench: the bench; the button makes no ticks meanwhile.
        presses: how many.
        told: called with the count of presses each time it grows.
        patience_s: how long the contact may rest before the recording is given up, in seconds.

    Raises:
        StoppedEarly: nobody pressed for so long, an edge did not arrive, or Ctrl-C came before a press was over.
        Refused: the board's firmware can't tell of its contact.
        LinkLost: the board is gone.
    """
    edges: list[tuple[int, bool]] = []
    seen, quiet_s, start_us = 0, 0.0, None
    try:
        heard = bench.ask("contact", "on")
        while True:
            contacts = [event for event in heard if isinstance(event, Contact)]
            if start_us is None and contacts:
                start_us = contacts[0].time_us
            new = [(event.time_us - (start_us or 0), event.closed) for event in contacts]
            if any(isinstance(event, Damage) for event in heard):
                raise StoppedEarly("an edge of the contact did not arrive; record again")
            edges += new
            quiet_s = 0.0 if new else quiet_s + _READ_S
            count = _over(edges, quiet_s)
            if count > seen:
                seen = count
                told(seen)
            if seen >= presses:
                return _first(edges, presses)
            if quiet_s >= patience_s:
                raise StoppedEarly(f"nobody pressed for {patience_s:g} s: {seen} of {presses} presses were recorded")
            heard = bench.listen(_READ_S)
    except KeyboardInterrupt:
        if not seen:
            raise StoppedEarly("interrupted: no press was recorded") from None
        return _first(edges, seen)
    finally:
        if not bench.lost:
            bench.ask("contact", "off")


def _first(edges: list[tuple[int, bool]], presses: int) -> Train:
    """The first so many presses alone: another may have begun."""
    real = [press for press in presses_of(Train(edges)) if not press.is_spike]
    if len(real) == presses:
        return Train(edges)
    until_us = real[presses].start_us
    return Train([edge for edge in edges if edge[0] < until_us], until_us)


def _over(edges: list[tuple[int, bool]], quiet_s: float) -> int:
    """How many presses are over: the contact is open, and has been for longer than a bounce's gap."""
    if len(edges) < 2:
        return 0
    open_now = not edges[-1][1] and quiet_s * 1e6 >= max(APART_US, QUIET_US)
    real = [press for press in presses_of(Train(edges, edges[-1][0])) if not press.is_spike]
    return len(real) if open_now else len(real) - 1
