"""Larch's demonstration programs: the rain tally, and the long tally that has no end."""

from __future__ import annotations

from handtick.virtual import larch_code as code

#: Tips a week from which on the week is wet.
WET_FROM = 40


def _tally(end: tuple[code.Line, ...]) -> bytes:
    """A program that adds up the week, lights the lamp if it is wet, and then does what ``end`` says."""
    return code.assemble(
        [
            "start",
            (code.OPERAND, code.TO_SCRATCH, 0),  # the sum so far, kept in the scratch memory
            (code.OPERAND, code.TO_DAY, 6),  # from Sunday back to Monday
            "next day",
            (code.SCRATCH, code.TO_TALLY, None),
            (code.GAUGE, code.TO_OPERAND, None),
            (code.SUM, code.TO_SCRATCH, None),
            (code.OPERAND, code.GO_IF_CARRY, "wet"),  # more than a byte holds: no need to count on
            (code.DAY, code.TO_TALLY, None),
            (code.LESS, code.TO_DAY, 1),  # borrows when it was Monday
            (code.OPERAND, code.GO_UNLESS_CARRY, "next day"),
            (code.SCRATCH, code.TO_TALLY, None),
            (code.LESS, code.TEST, WET_FROM),  # borrows in a dry week
            (code.OPERAND, code.GO_IF_CARRY, "dry"),
            "wet",
            (code.OPERAND, code.TO_LAMP, 1),
            "dry",
            *end,
        ]
    )


#: One week, then halt with the sum on the bus.
RAIN_TALLY = _tally(((code.SCRATCH, code.HALT, None),))

#: The same week again and again.
LONG_TALLY = _tally(((code.OPERAND, code.GO, "start"),))


def rain_tally_listing() -> str:
    """The rain tally as a Markdown table."""
    rows = ["| address | bytes | instruction |", "|---|---|---|"]
    rows += [f"| {at:02X} | `{bytes_}` | {words} |" for at, bytes_, words in code.listing(RAIN_TALLY)]
    return "\n".join(rows) + "\n"
