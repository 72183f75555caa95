"""How far a log accounts for its board's ticks, so that whoever goes on with it misses what does not arrive after."""

from __future__ import annotations

import json
from collections.abc import Iterator

from handtick.log.reader import LogReader
from handtick.log.rows import NOT_TOLD
from handtick.log.schema import LARGEST
from handtick.place import Place

__all__ = ["accounted"]

_LAST_TICK = "SELECT reset, tick FROM tick WHERE boot = ? ORDER BY reset DESC, tick DESC LIMIT 1"
_LAST_GAP = "SELECT reset, last_tick FROM gap WHERE boot = ? ORDER BY reset DESC, last_tick DESC LIMIT 1"
_LAST_RESET = "SELECT reset, 0 FROM unplaced WHERE boot = ? ORDER BY reset DESC LIMIT 1"
_GREETINGS = "SELECT reset, tick, edges - tick, fields FROM greeting WHERE boot = ? AND reset <= ? ORDER BY id DESC"
_FIRST_GREETING = "SELECT reset, 0, edges - tick FROM greeting WHERE boot = ? ORDER BY id LIMIT 1"
# The state that begins a run carries the edge count; half a tick may be known from a greeting alone.
_TOLD_RUN = "SELECT 1 FROM run WHERE boot = ? AND reset = ? AND asked NOT IN (?, 'half') LIMIT 1"
_REACHED = """
SELECT max(ifnull((SELECT max(tick) FROM tick WHERE boot = ?1 AND reset = ?2), 0),
    ifnull((SELECT max(last_tick) FROM gap WHERE boot = ?1 AND reset = ?2), 0))"""
_UNPLACED = "SELECT ifnull(sum(count), 0) FROM unplaced WHERE boot = ? AND reset > ? AND reset <= ?"


def accounted(log: LogReader, boot: int | None = None) -> Place | None:
    """The last place of a boot, or of the one that was heard last; None where the log accounts for none of its ticks.

    The first boot is accounted for from where the log begins, those after it from their start.
    """
    boots = log.boots()
    if not boots or boot not in (None, *boots):
        return None
    boot = boots[-1] if boot is None else boot
    start = None if boot == log.first_boot() else (0, 0)
    places = [place for sql in (_LAST_TICK, _LAST_GAP, _LAST_RESET) for place in log.query(sql, boot)]
    places += [(reset, tick) for reset, tick, _ in _settled(log, boot, LARGEST)]
    places += [start] if start else []
    if not places:
        return None
    reset, tick = max(places)
    base = _base(log, boot, reset, start)
    return Place(boot, reset, tick, base, base is not None and _is_told(log, boot, reset))


def _settled(log: LogReader, boot: int, upto: int) -> Iterator[tuple[int, int, int]]:
    """Reset, tick and edges at the reset's zero of the last greeting, up to a reset, at which nothing waited.

    With no tick in hand and no record on the board, everything before it has been heard of or told to be missing.
    """
    for reset, tick, zero, text in log.query(_GREETINGS, boot, upto):
        fields = json.loads(text)
        if fields.get("waiting") == 0 and fields.get("mode") in ("rest", "waiting"):
            yield reset, tick, zero
            return


def _is_told(log: LogReader, boot: int, reset: int) -> bool:
    """Whether the board has told the edge count at this reset's zero to whoever logged it."""
    if reset == 0 or any(log.query(_TOLD_RUN, boot, reset, NOT_TOLD)):
        return True
    return any(greeted == reset for greeted, _, _ in _settled(log, boot, reset))


def _base(log: LogReader, boot: int, reset: int, start: tuple[int, int] | None) -> int | None:
    """The edges up to a reset's zero: those told of where all was accounted for, and what the log has since."""
    told = list(_settled(log, boot, reset))
    told += [(*start, 0)] if start else list(log.query(_FIRST_GREETING, boot))
    if not told or told[0][0] > reset:
        return None
    since, tick, edges = told[0]
    for number in range(since, reset):
        ((reached,),) = log.query(_REACHED, boot, number)
        edges += max(reached, tick)
        tick = 0
    ((unplaced,),) = log.query(_UNPLACED, boot, since, reset)
    return int(edges + unplaced)
