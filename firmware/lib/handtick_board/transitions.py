"""What the conductor does with each event in each mode: one table, from which the diagram in docs/ is drawn.

Modes: ``rest`` (halted, line at the rest level), ``held`` (half a tick done), ``moving`` (making ticks), ``ending``
(finishing the tick in hand), ``waiting`` (at rest until there is room for records), ``reset`` (the reset sequence).
"""

from __future__ import annotations

REST = "rest"
HELD = "held"
MOVING = "moving"
ENDING = "ending"
WAITING = "waiting"
IN_RESET = "reset"

MODES = (REST, HELD, MOVING, ENDING, WAITING, IN_RESET)

#: (mode, event): (action, mode after it). An action that begins with "refuse" changes nothing.
TRANSITIONS = {
    # A command or a press that asks for whole ticks.
    (REST, "move"): ("begin", MOVING),
    (HELD, "move"): ("begin", MOVING),
    (MOVING, "move"): ("refuse_running", MOVING),
    (ENDING, "move"): ("queue", ENDING),
    (WAITING, "move"): ("refuse_full", WAITING),
    (IN_RESET, "move"): ("refuse_in_reset", IN_RESET),
    # "run" while an endless run is on is a new rate.
    (MOVING, "run again"): ("change_rate", MOVING),
    # Ticks up to a tick number: counted from where the clock rests.
    (REST, "to"): ("begin", MOVING),
    (HELD, "to"): ("begin", MOVING),
    (MOVING, "to"): ("refuse_running", MOVING),
    (ENDING, "to"): ("refuse_running", ENDING),
    (WAITING, "to"): ("refuse_full", WAITING),
    (IN_RESET, "to"): ("refuse_in_reset", IN_RESET),
    # One edge.
    (REST, "half"): ("begin_half", HELD),
    (HELD, "half"): ("finish_half", ENDING),
    (MOVING, "half"): ("refuse_running", MOVING),
    (ENDING, "half"): ("refuse_running", ENDING),
    (WAITING, "half"): ("refuse_full", WAITING),
    (IN_RESET, "half"): ("refuse_in_reset", IN_RESET),
    # The tick button. A press while a tick made by hand is under way is one more tick after it.
    (REST, "press"): ("press", MOVING),
    (HELD, "press"): ("press", MOVING),
    (MOVING, "press"): ("refuse_press", MOVING),
    (MOVING, "press by hand"): ("queue_press", MOVING),
    (ENDING, "press"): ("queue_press", ENDING),
    (WAITING, "press"): ("refuse_press", WAITING),
    (IN_RESET, "press"): ("refuse_press", IN_RESET),
    # A new rate.
    (REST, "rate"): ("change_rate", REST),
    (HELD, "rate"): ("change_rate", HELD),
    (MOVING, "rate"): ("change_rate", MOVING),
    (ENDING, "rate"): ("change_rate", ENDING),
    (WAITING, "rate"): ("change_rate", WAITING),
    (IN_RESET, "rate"): ("change_rate", IN_RESET),
    # Halt, by whoever asks for it.
    (REST, "halt"): ("stay", REST),
    (HELD, "halt"): ("end", ENDING),
    (MOVING, "halt"): ("end", ENDING),
    (ENDING, "halt"): ("end_at_once", ENDING),
    (WAITING, "halt"): ("give_up", REST),
    (IN_RESET, "halt"): ("stay", IN_RESET),
    # Reset is asserted at once; the tick in hand is finished under it.
    (REST, "reset"): ("begin_reset", IN_RESET),
    (HELD, "reset"): ("begin_reset", IN_RESET),
    (MOVING, "reset"): ("begin_reset", IN_RESET),
    (ENDING, "reset"): ("begin_reset", IN_RESET),
    (WAITING, "reset"): ("begin_reset", IN_RESET),
    (IN_RESET, "reset"): ("refuse_in_reset", IN_RESET),
    # The clock came to rest by itself.
    (HELD, "edge made"): ("report_half", HELD),
    (MOVING, "at rest"): ("settle", REST),
    (ENDING, "at rest"): ("settle", REST),
    (MOVING, "no room"): ("wait", WAITING),
    (ENDING, "no room"): ("settle", REST),
    (HELD, "no room"): ("give_up_half", REST),
    (HELD, "at rest"): ("give_up_half", REST),
    (WAITING, "room"): ("resume", MOVING),
    (IN_RESET, "at rest"): ("go_on_with_reset", IN_RESET),
    (IN_RESET, "rested"): ("release_reset", REST),
}
