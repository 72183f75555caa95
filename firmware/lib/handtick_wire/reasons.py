"""Why something stopped, was refused or was lost: the words the board sends. ``described.py`` has them in sentences."""

from __future__ import annotations

# Why the clock came to rest.
COUNT = "count"
HALTED = "halted"
HALT_LINE = "halt-line"
LOG_FULL = "log-full"
RESET = "reset"
HOST_GONE = "host-gone"
BUTTON = "button"
PROGRAM_ENDS = "program-ends"
ROOM = "room"
RATE = "rate"
RULE = "rule"
ASKED = "asked"

# Why a command was refused.
RUNNING = "clock-running"
IN_RESET = "in-reset"
BUSY = "busy"
BEHIND = "tick-behind"
UNKNOWN = "unknown-command"
BAD_FIELDS = "bad-fields"
TOO_FAST = "too-fast"
NO_GREETING = "no-greeting"
OUT_OF_TICKS = "out-of-ticks"
BAD_RULE = "bad-rule"
MAY_NOT_STOP = "clock-may-not-stop"
NO_TRIGGER = "no-trigger"
NO_READY = "no-ready"
READY_NOT_TOLD = "ready-not-told"
READY_IN_USE = "ready-in-use"
NOT_RUNNING = "clock-at-rest"
TOO_FAST_FOR_READY = "too-fast-for-ready"
PHASE_TOO_LONG = "phase-too-long"

# Why ticks have no samples.
NO_HOST = "no-host"
NOT_SAMPLED = "not-sampled"

# What a notice tells.
SPIKE = "spike"
PRESS_REFUSED = "press-refused"
SHORT_HALT_PULSE = "short-halt-pulse"
HALT_BEFORE_FIRST = "halt-line-before-first-tick"
DAMAGED_COMMAND = "damaged-command"
ALREADY_THERE = "already-there"
