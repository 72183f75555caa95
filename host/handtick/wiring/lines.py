"""Finds the line of a wiring file that a key stands on; TOML readers keep no places."""

from __future__ import annotations

import re

_HEADING = re.compile(r"\s*\[\s*([^\[\]]+?)\s*\]\s*(?:#.*)?$")
_PART = re.compile(r"""\s*(?:"([^"]*)"|'([^']*)'|([A-Za-z0-9_-]+))\s*(?:\.|$)""")


def line_of(text: str, where: tuple[str, ...]) -> int:
    """The line, from 1, of a key given by its parts from the top; of the nearest thing around it where it has no line
    of its own; 0 where there is nothing of it."""
    best, depth = 0, 0
    heading: tuple[str, ...] = ()
    for number, line in enumerate(text.splitlines(), 1):
        found = _HEADING.match(line)
        if found is not None:
            heading = _parts(found[1])
            path = heading
        elif "=" in line and not line.lstrip().startswith("#"):
            path = (*heading, *_parts(line.split("=", 1)[0]))
        else:
            continue
        shared = _shared(path, where)
        if shared > depth and shared in (len(path), len(where)):
            best, depth = number, shared
    return best


def _parts(dotted: str) -> tuple[str, ...]:
    return tuple(first or second or third for first, second, third in _PART.findall(dotted))


def _shared(path: tuple[str, ...], where: tuple[str, ...]) -> int:
    count = 0
    for one, other in zip(path, where, strict=False):
        if one != other:
            break
        count += 1
    return count
