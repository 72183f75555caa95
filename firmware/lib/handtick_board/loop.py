"""The board's loop: has everything set up, forgets how, and then goes round for ever."""

from __future__ import annotations

import atexit
import gc
import sys

import microcontroller

from .us_time import elapsed_us, reached

WATCHDOG_S = 5
# How long tidying takes at most, in microseconds.
_TIDY_US = 20_000

# Modules of which nothing is needed once the board is set up: a third of the memory that is left was theirs.
_ONLY_TO_SET_UP = ("start", "choices", "pin_map")


def run() -> None:
    """Runs the bench's firmware; returns only by an exception."""
    bench, hand, now_us = _set_up()
    # However the program ends, the tick in hand ends first.
    atexit.register(bench.come_to_rest)
    feed = _watchdog()
    gc.collect()
    print("handtick: ready; heap free", gc.mem_free(), "bytes")  # type: ignore[attr-defined]
    passes = tidied_at = 0
    while True:
        bench.poll()
        hand.poll(bench.now_us)
        passes = (passes + 1) & 0x3F
        if bench.one_shot.armed or not bench.clock.resting:
            if passes == 0 and _may_tidy(bench.clock.due_us(), now_us()):
                gc.collect()
        elif bench.clock.edges != tidied_at and bench.idle:
            # A press has made its tick and been told. While it is held, and until the one-shot is armed again, there
            # can be no other one: by the next, what this one left behind is gone.
            tidied_at = bench.clock.edges
            gc.collect()
        feed()


def _set_up():
    gc.collect()
    from . import start

    parts = start.set_up()
    package = sys.modules[__name__.rpartition(".")[0]]
    for name in _ONLY_TO_SET_UP:
        del sys.modules[package.__name__ + "." + name]
        delattr(package, name)
    return parts


def _may_tidy(due_us: int | None, now_us: int) -> bool:
    """Whether the heap should be tidied now, so that it need not be when an edge is due.

    That is between two edges that are far apart, before what the passes leave behind has filled the heap.
    """
    return due_us is not None and not reached(now_us, due_us) and elapsed_us(due_us, now_us) > _TIDY_US


def _watchdog():
    """Starts the watchdog where the board has one; returns what feeds it."""
    dog = microcontroller.watchdog
    if dog is None:
        return lambda: None
    import watchdog

    dog.timeout = WATCHDOG_S
    dog.mode = watchdog.WatchDogMode.RESET
    return dog.feed
