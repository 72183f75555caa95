"""Writes buses as a wiring file."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable

from handtick.wiring.model import Bus

_HEAD = "# What the probes are called. Probe numbers stand lowest bit first.\n"
_BARE = re.compile(r"[A-Za-z0-9_-]+")


def wiring_text(buses: Iterable[Bus]) -> str:
    """The text of a wiring file with these names; ``load_wiring`` reads it back as the same buses."""
    parts = [_HEAD]
    for bus in buses:
        # JSON's strings are TOML's basic strings.
        name = bus.name if _BARE.fullmatch(bus.name) else json.dumps(bus.name, ensure_ascii=False)
        if bus.width == 1:
            parts.append(f"\n[line.{name}]\nprobe = {bus.probes[0]}\n")
        else:
            parts.append(f"\n[bus.{name}]\nprobes = {list(bus.probes)}\n")
    return "".join(parts)
