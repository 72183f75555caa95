"""JSON Lines: an object a tick, the same object that commands print with ``--json``."""

from __future__ import annotations

import functools
import json
from collections.abc import Callable, Iterable
from typing import Any, TextIO

from handtick import events
from handtick.flags import flag_words
from handtick.log import Tick
from handtick.wiring import Wiring
from handtick.wiring.model import STATES


def tick_object(tick: Tick | events.Tick, wiring: Wiring) -> dict[str, Any]:
    """A tick as a JSON object: its key, raw samples, time, flags in words, and every bus early and late."""
    buses = {
        bus.name: {
            when: None if sample is None else bus.value(sample)
            for when, sample in (("early", tick.early), ("late", tick.late))
        }
        for bus in wiring.buses
    }
    return {
        "kind": "tick",
        "boot": tick.boot,
        "reset": tick.reset,
        "tick": tick.tick,
        "early": tick.early,
        "late": tick.late,
        "time_us": tick.time_us,
        "flags": flag_words(tick.flags),
        "buses": buses,
    }


def write_json_lines(ticks: Iterable[Tick], wiring: Wiring, file: TextIO) -> int:
    """Writes ticks, one object a line; returns how many."""
    rest = _rest(wiring)
    count = 0
    for boot, reset, tick, early, late, time_us, flags in ticks:
        samples, meaning = rest(early, late, flags)
        key = f'{{"kind": "tick", "boot": {boot}, "reset": {reset}, "tick": {tick}'
        file.write(f'{key}, {samples}, "time_us": {time_us}, {meaning}\n')
        count += 1
    return count


def _rest(wiring: Wiring) -> Callable[[int | None, int | None, int], tuple[str, str]]:
    """Gives what writes all of a tick's object but its key and time; as in ``Wiring.reader``, once for each state."""

    @functools.lru_cache(STATES)
    def written(early: int | None, late: int | None, flags: int) -> tuple[str, str]:
        whole = tick_object(Tick(0, 0, 0, early, late, 0, flags), wiring)
        samples, meaning = ({name: whole[name] for name in names} for names in (("early", "late"), ("flags", "buses")))
        return json.dumps(samples)[1:-1], json.dumps(meaning, ensure_ascii=False)[1:]

    return written
