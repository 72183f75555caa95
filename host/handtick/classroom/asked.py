"""What people may ask for over the page's socket, who may, and how it is written: one JSON object a message."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from handtick.errors import UsageError

#: Longest message, in bytes; longest name, word, rate, value and note, in letters.
LONGEST_MESSAGE = 4096
LONGEST = {"name": 24, "word": 64, "seat": 64, "rate": 24, "bus": 64, "value": 40, "text": 200}
_MOST = 2**63 - 1

ANYONE, HOLDER, ONLY_TEACHER = "anyone", "whoever has the crank", "the teacher"


@dataclass(frozen=True, slots=True)
class Deed:
    """Something that can be asked for: who may, the fields with their types, and what it does."""

    who: str
    what: str
    fields: Mapping[str, type] = field(default_factory=dict)


#: Everything that can be asked for once one has joined, by its name.
DEEDS: dict[str, Deed] = {
    "step": Deed(HOLDER, "one tick"),
    "half": Deed(HOLDER, "half a tick"),
    "run": Deed(HOLDER, "run at a rate, up to the teacher's limit", {"rate": str}),
    "halt": Deed(HOLDER, "come to rest"),
    "to": Deed(HOLDER, "go to a tick, at the teacher's limit at most", {"tick": int}),
    "reset": Deed(HOLDER, "reset the machine, where the teacher allows it"),
    "wait": Deed(ANYONE, "wait in the row for the crank"),
    "leave": Deed(ANYONE, "leave the row"),
    "return": Deed(HOLDER, "hand the crank back to the teacher"),
    "call": Deed(
        ANYONE,
        "say what the next tick will put on a bus; reset and tick are those of that next tick",
        {"bus": str, "value": str, "reset": int, "tick": int},
    ),
    "note": Deed(ANYONE, "a note on a tick, into the log", {"text": str, "reset": int, "tick": int}),
    "back": Deed(ANYONE, "earlier ticks of a reset, up to one", {"reset": int, "last": int}),
    "give": Deed(ONLY_TEACHER, "hand the crank to a person by number", {"person": int}),
    "next": Deed(ONLY_TEACHER, "hand the crank to whoever waits first"),
    "take": Deed(ONLY_TEACHER, "take the crank back"),
    "allow": Deed(
        ONLY_TEACHER, "what others may: highest rate, reset, notes", {"rate": str, "reset": bool, "notes": bool}
    ),
    "ask": Deed(ONLY_TEACHER, "ask everybody to call a bus; an empty name ends that", {"bus": str}),
    "stop": Deed(ONLY_TEACHER, "go to a stop of the lesson by number, from 0", {"place": int}),
    "remove": Deed(ONLY_TEACHER, "send somebody out", {"person": int}),
    "door": Deed(ONLY_TEACHER, "let people join, or not", {"open": bool}),
    "export": Deed(ONLY_TEACHER, "all calls so far, as CSV"),
}

#: How one joins, as one's first message: with the room word and a name, the teacher's secret, or one's own seat.
JOINING: dict[str, Mapping[str, type]] = {
    "join": {"name": str, "word": str},
    "teach": {"word": str},
    "watch": {"word": str},
    "sit": {"seat": str},
}


@dataclass(frozen=True, slots=True)
class Asked:
    """One message: what is asked for, and with what."""

    do: str
    fields: dict[str, Any]


def read(text: str | bytes, known: Mapping[str, Mapping[str, type]]) -> Asked:
    """Reads a message.

    Args:
        text: as it came.
        known: the fields of everything that may be asked for now.

    Raises:
        UsageError: it is no message, or asks for nothing known, or its fields are not the right ones.
    """
    try:
        if not isinstance(text, str) or len(text.encode()) > LONGEST_MESSAGE:
            raise ValueError
        said = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise UsageError(f"a message is one JSON object of at most {LONGEST_MESSAGE} bytes") from error
    do = said.pop("do", None) if isinstance(said, dict) else None
    if not isinstance(do, str) or do not in known:
        raise UsageError("nobody here can do that; reload the page")
    fields = known[do]
    if set(said) != set(fields):
        raise UsageError(f"{do} goes with: {', '.join(fields) or 'nothing more'}")
    for name, kind in fields.items():
        _check(do, name, said[name], kind)
    return Asked(do, said)


def one_line(text: str) -> str:
    """A text in one line, without what is not to be seen: control characters, marks that turn the direction of writing,
    halves of letters."""
    return " ".join("".join(letter if letter.isprintable() else " " for letter in text).split())


def _check(do: str, name: str, value: Any, kind: type) -> None:
    if type(value) is not kind:
        raise UsageError(f"{do}: {name} is a {_WORDS[kind]}")
    if isinstance(value, int) and not 0 <= value <= _MOST:
        raise UsageError(f"{do}: {name} goes from 0 to 2^63 - 1")
    if isinstance(value, str) and len(value) > LONGEST[name]:
        raise UsageError(f"{do}: {name} has at most {LONGEST[name]} letters")


_WORDS = {str: "text", int: "whole number", bool: "yes or no"}
