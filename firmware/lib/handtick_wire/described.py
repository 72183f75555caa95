"""The words of ``reasons.py`` in sentences, for people; the board itself has no use for this file."""

from __future__ import annotations

from . import reasons

SENTENCES = {
    reasons.COUNT: "all that was asked for is done",
    reasons.HALTED: "halted from the host",
    reasons.HALT_LINE: "the machine asserted its halt line",
    reasons.LOG_FULL: "the log is full: the host does not read fast enough, and the clock waits",
    reasons.RESET: "the machine was reset",
    reasons.HOST_GONE: "the host closed the connection",
    reasons.BUTTON: "halted by the run/halt button",
    reasons.PROGRAM_ENDS: "the board's program ended",
    reasons.ROOM: "there is room in the log again",
    reasons.RATE: "the rate was changed",
    reasons.RULE: "the stop rule held",
    reasons.ASKED: "asked for",
    reasons.RUNNING: "the clock is running; halt it first",
    reasons.IN_RESET: "the machine is being reset; ask again when that is done",
    reasons.BUSY: "another command already waits for the tick in hand; ask again",
    reasons.BEHIND: "that tick has gone by; reset the machine to reach it again",
    reasons.UNKNOWN: "the board does not know this command; is its firmware older than this program?",
    reasons.BAD_FIELDS: "the board can't read the values given with the command",
    reasons.TOO_FAST: "the rate is above what this board's clock engine can make",
    reasons.NO_GREETING: "the board wants a greeting first",
    reasons.OUT_OF_TICKS: "tick numbers end at 2^64 - 1; reset the machine",
    reasons.BAD_RULE: "the board can't read the stop rule; is its firmware older than this program?",
    reasons.MAY_NOT_STOP: "this machine's clock may not stop (the wiring file says so), and it would",
    reasons.PHASE_TOO_LONG: "a phase would last longer than this machine can bear (the wiring file says how long)",
    reasons.NO_TRIGGER: "this board has no trigger output; set HANDTICK_SPARE to trigger, or give it a pin",
    reasons.NO_READY: "this board has no ready line that can step: it takes an RP2040, with HANDTICK_SPARE as ready",
    reasons.READY_NOT_TOLD: "the board was not told what the machine's ready line is like; send ready_line first",
    reasons.READY_IN_USE: "the ready line's pin, or the PIO it needs, is taken; free it on the board",
    reasons.NOT_RUNNING: "the clock is at rest, and steps by the ready line need it to run; give a rate with --rate",
    reasons.TOO_FAST_FOR_READY: "a phase is under 200 ns, and the ready line does not keep up; take a lower rate",
    reasons.NO_HOST: "no host was listening and the board's memory was full",
    reasons.NOT_SAMPLED: "they were made at speed, without samples",
    reasons.SPIKE: "the tick button closed too briefly to be a press",
    reasons.PRESS_REFUSED: "a press of the tick button was refused: the clock is not the hand's now",
    reasons.SHORT_HALT_PULSE: "the halt line was asserted between two ticks only, and not obeyed",
    reasons.HALT_BEFORE_FIRST: "halted by line before first instruction: the machine asserts its halt line after reset",
    reasons.DAMAGED_COMMAND: "the board got a line it could not trust, and ignored it",
    reasons.ALREADY_THERE: "already there",
}


def sentence(word: str) -> str:
    """The sentence for a reason; the word itself where a newer board sends one that is not known here."""
    return SENTENCES.get(word, word)
