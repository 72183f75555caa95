"""How far a log accounts for its board's ticks, so that whoever goes on with it misses what does not arrive after."""

from __future__ import annotations

import json
from collections.abc import Iterator

from handtick.log.reader import LogReader
from handtick.place import Place

__all__ = ["accounted"]

_LAST_TICK = "SELECT reset, tick FROM tick WHERE boot = ? ORDER BY reset DESC, tick DESC LIMIT 1"
_LAST_GAP = "SELECT reset, last_tick FROM gap WHERE boot = ? ORDER BY reset DESC, last_tick DESC LIMIT 1"
_LAST_RESET = "SELECT reset, 0 FROM unplaced WHERE boot = ? ORDER BY reset DESC LIMIT 1"
_GREETINGS = "SELECT reset, tick, fields FROM greeting WHERE boot = ? ORDER BY id DESC"
_NEAREST_GREETING = """
SELECT reset, edges - tick FROM greeting WHERE boot = ? AND reset <= ? ORDER BY reset DESC, id DESC LIMIT 1"""
_REACHED = """
SELECT max(ifnull((SELECT max(tick) FROM tick WHERE boot = ?1 AND reset = ?2), 0),
    ifnull((SELECT max(last_tick) FROM gap WHERE boot = ?1 AND reset = ?2), 0))"""
_UNPLACED = "SELECT ifnull(sum(count), 0) FROM unplaced WHERE boot = ? AND reset > ? AND reset <= ?"


def accounted(log: LogReader) -> Place | None:
    """The last place of the boot that was heard last; None where the log accounts for none of its ticks."""
    boots = log.boots()
    if not boots:
        return None
    boot = boots[-1]
    places = [place for sql in (_LAST_TICK, _LAST_GAP, _LAST_RESET) for place in log.query(sql, boot)]
    places += _greeted(log, boot)
    if not places:
        return None
    reset, tick = max(places)
    return Place(boot, reset, tick, _base(log, boot, reset))


def _greeted(log: LogReader, boot: int) -> Iterator[tuple[int, int]]:
    """The last greeting at which no tick was in hand and no record waited on the board, if there is one."""
    for reset, tick, text in log.query(_GREETINGS, boot):
        fields = json.loads(text)
        if fields.get("waiting") == 0 and fields.get("mode") in ("rest", "waiting"):
            yield reset, tick
            return


def _base(log: LogReader, boot: int, reset: int) -> int | None:
    """The edges up to a reset's zero: what the nearest greeting tells, and what the log accounts for since."""
    for greeted, edges in log.query(_NEAREST_GREETING, boot, reset):
        reached = sum(next(log.query(_REACHED, boot, number))[0] for number in range(greeted, reset))
        ((unplaced,),) = log.query(_UNPLACED, boot, greeted, reset)
        return int(edges + reached + unplaced)
    return None
