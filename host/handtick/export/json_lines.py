"""JSON Lines: an object a tick, the same object that commands print with ``--json``."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any, TextIO

from handtick import events
from handtick.flags import flag_words
from handtick.log import Tick
from handtick.wiring import Wiring


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
    count = 0
    for tick in ticks:
        file.write(json.dumps(tick_object(tick, wiring), ensure_ascii=False) + "\n")
        count += 1
    return count
