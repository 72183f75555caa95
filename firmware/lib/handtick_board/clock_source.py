"""The clock's PIO program as text, in the assembly language of the RP2040 datasheet.

The board never reads this file: ``clock_program.py`` has the words, and a test assembles this text and compares.
"""

from __future__ import annotations

#: Side-set bits of the leading edge, and of what comes after it; the clock pin is the lowest.
_SIDES = {"clock": (1, 0), "inverse": (1, 2), "two-phase": (1, 0)}
_PHASE_TWO = 2


def source(outputs: str, halt: str, dead_cycles: int = 2) -> str:
    """The program.

    Args:
        outputs: "clock", "inverse" (the clock and its complement on the next pin) or "two-phase" (phase one on the
            clock pin, phase two on the next, never both high).
        halt: level of the halt line that stops the clock, "high" or "low"; "none" where there is no such line.
        dead_cycles: with two phases, the time between one's fall and the other's rise, 2 to 8 cycles.
    """
    text = [".program clock", ".side_set %d opt" % (1 if outputs == "clock" else 2), ".mov_status txfifo < 1"]
    text += ["    jmp idle  ; a state machine begins here, whatever its registers hold"]
    text += _loop("count", False, outputs, halt, dead_cycles)
    text += [".wrap_target", "idle:", "    jmp idle"]
    text += _loop("trace", True, outputs, halt, dead_cycles)
    return "\n".join(text + [".wrap", ""])


def _loop(name: str, sampled: bool, outputs: str, halt: str, dead_cycles: int) -> list[str]:
    two_phase = outputs == "two-phase"
    lead, trail = _SIDES[outputs]
    # The dead time is that of two instructions and what they are drawn out by.
    first = min(3, dead_cycles - 2)
    drawn, rest = (" [%d]" % first, " [%d]" % (dead_cycles - 2 - first)) if two_phase else ("", "")
    end_two = " side 0" + drawn if two_phase else ""

    lines = [name + ":"]
    if sampled:
        lines += [
            "    mov y, isr" + end_two,
            "    in pins, 16%s  ; the early sample; the word goes out by itself" % rest,
        ]
    elif two_phase:
        lines += ["    nop" + end_two, "    nop" + rest]
    lines += [
        "    mov %s side %d  ; the leading edge" % ("isr, y" if sampled else "y, isr", lead),
        name + "_lead:",
        "    jmp y-- %s_lead" % name,
    ]
    if sampled:
        lines += ["    mov y, isr", "    in pins, 16  ; the late sample", "    mov isr, y"]
    lines += ["    mov y, osr side %d%s  ; the trailing edge" % (trail, drawn)]
    if two_phase:
        lines += ["    nop" + rest]
    lines += [
        name + "_trail:",
        "    jmp y-- %s_trail%s" % (name, " side %d" % _PHASE_TWO if two_phase else ""),
        "    mov y, status  ; nought where a word waits: the board wants the clock at rest",
        "    jmp !y idle",
    ]
    if halt == "high":
        lines += ["    jmp pin idle  ; the machine asks for a halt"]
    elif halt == "low":
        lines += ["    jmp pin %s_on" % name, "    jmp idle  ; the machine asks for a halt", name + "_on:"]
    else:
        lines += ["    nop"]
    return lines + ["    jmp x-- " + name]
