"""Larch worked out by hand, from its tables in words, and programs to compare it over."""

from __future__ import annotations

from collections.abc import Iterator

from hypothesis import strategies as st

from handtick.virtual import larch_code as code
from handtick.virtual.larch import Larch
from handtick.virtual.rain_tally import LONG_TALLY, RAIN_TALLY

GIVERS = ("program", "tally", "sum", "gauge", "day", "scratch", "less", "operand")
KEPT = ("tally", "operand", "day", "pointer", "counter", "zero", "carry", "lamp", "halted")

_endless = st.integers(0, 255).filter(lambda byte: byte >> 1 & 15 != code.HALT)
programs = st.one_of(
    st.sampled_from([RAIN_TALLY, LONG_TALLY]),
    st.binary(max_size=256),
    st.lists(_endless, max_size=256).map(bytes),
)
gauges = st.lists(st.integers(0, 255), max_size=8)
ticks = st.integers(0, 300)


def by_hand(program: bytes, gauge: list[int]) -> Iterator[tuple[int, dict[str, int], bytes]]:
    """Carries a program out instruction by instruction, from the tables in words and not from Larch's code.

    Yields:
        After each instruction: the ticks it took, the registers, the scratch memory. Ends at a halt.
    """
    memory = list(program) + [0] * (256 - len(program))
    tips = dict(enumerate(gauge))
    scratch = [0] * 256
    kept = dict.fromkeys(KEPT, 0)
    while not kept["halted"]:
        giver, rest = divmod(memory[kept["counter"]], 32)
        taker, with_literal = divmod(rest, 2)
        at = kept["counter"] + 1
        if with_literal:
            kept["operand"] = memory[at % 256]
            at += 1
        value = {
            "program": memory[at % 256],
            "tally": kept["tally"],
            "sum": kept["tally"] + kept["operand"],
            "gauge": tips.get(kept["day"], 0),
            "day": kept["day"],
            "scratch": scratch[kept["pointer"]],
            "less": kept["tally"] - kept["operand"],
            "operand": kept["operand"],
        }[GIVERS[giver]]
        if GIVERS[giver] in ("sum", "less"):
            kept["carry"] = int(not 0 <= value <= 255)
            value %= 256
            kept["zero"] = int(value == 0)
        kept["counter"] = (at + (GIVERS[giver] == "program")) % 256
        match code.TAKERS[taker][0]:
            case "tally" | "operand" | "day" | "pointer" as register:
                kept[register] = value
            case "scratch":
                scratch[kept["pointer"]] = value
            case "lamp":
                kept["lamp"] = int(value > 0)
            case "halt":
                kept["halted"] = 1
            case "go":
                kept["counter"] = value
            case "go if zero" if kept["zero"]:
                kept["counter"] = value
            case "go if carry" if kept["carry"]:
                kept["counter"] = value
            case "go unless carry" if not kept["carry"]:
                kept["counter"] = value
        yield 2 + with_literal, dict(kept), bytes(scratch)


def tick(larch: Larch) -> tuple[int, int]:
    """One tick; gives its early and its late sample."""
    early = larch.probes()
    larch.set_clock(True)
    late = larch.probes()
    larch.set_clock(False)
    return early, late


def kept_by(larch: Larch) -> dict[str, int]:
    """The registers, flags and lines."""
    return {name: int(getattr(larch, name)) for name in KEPT}


def everything(larch: Larch) -> tuple[dict[str, int], bytes, int]:
    """All that can be seen of it."""
    return kept_by(larch), bytes(larch.scratch), larch.probes()
