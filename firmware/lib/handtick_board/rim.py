"""What a board stands on, and who it is: everything that ``board.py`` gets from outside."""

from __future__ import annotations


class Rim:
    """What the board stands on. Each attribute is an object with the calls named here.

    Attributes:
        line: the clock line; ``value`` is the level at the machine.
        reset_line: ``value`` True asserts the machine's reset.
        halt_pin: ``value`` True while the machine asks for a halt.
        probes: ``read()`` gives all probes as one number; ``disagreed`` whether its two reads differed; ``pull(way)``
            pulls them "up", "down" or "none".
        contact: ``edges(now_us)`` gives the tick button's edges since the last call as (board time, closed) pairs, and
            at the first call where it stands; ``waiting`` whether there are any.
        port: ``connected``, ``waiting`` bytes to be read, ``read()`` giving them, ``write(data)`` giving how many bytes
            it took; it waits for nobody but a host that is reading, and never long.
        now_us: gives the board time.
        probe_count: how many probes there are.
        chained: how many of them, the last ones, are on a chain (see ``ChainedProbes``).
        pass_us: about how long a pass of the loop takes here with a line written, in microseconds: where the next edge
            is due sooner, the loop stays with the clock until it is made. 0 where a pass takes no time.
        looks: how many looks for a contact and for bytes follow a pass while the clock is at rest, 8 or more; 0 where a
            pass takes no time.
        supply: ``read_mv()`` gives the machine's supply in millivolts; None where it is not sensed.
        heap_free: gives the free heap in bytes, 0 where memory is not scarce.
        trigger: an output for an oscilloscope, as ``line``; None where there is none.
        make_ready: makes the ready line (see ``ReadySteps``); None where there is none.
        counter: ``read()`` gives the edges counted at the far end of the clock wire; None where there is no counter.
        tug: an output that pulls loose probe wires through resistors, as ``line``; None where there is none.
        bursts: whether the line makes bursts of ticks by itself (see ``BurstClock``).
    """

    def __init__(
        self,
        line,
        reset_line,
        halt_pin,
        probes,
        contact,
        port,
        now_us,
        probe_count: int = 16,
        pass_us: int = 0,
        supply=None,
        heap_free=lambda: 0,
        bursts: bool = False,
        trigger=None,
        make_ready=None,
        counter=None,
        tug=None,
        chained: int = 0,
        looks: int = 0,
    ) -> None:
        self.line = line
        self.reset_line = reset_line
        self.halt_pin = halt_pin
        self.probes = probes
        self.contact = contact
        self.port = port
        self.now_us = now_us
        self.probe_count = probe_count
        self.pass_us = pass_us
        self.supply = supply
        self.heap_free = heap_free
        self.bursts = bursts
        self.trigger = trigger
        self.make_ready = make_ready
        self.counter = counter
        self.tug = tug
        self.chained = chained
        self.looks = looks


class Identity:
    """Who the board is.

    Attributes:
        name: kind of board, a word.
        uid: this very board, a word.
        boot: number of starts so far, from 1.
        started: why it started, a word.
    """

    def __init__(self, name: str, uid: str, boot: int, started: str) -> None:
        self.name = name
        self.uid = uid
        self.boot = boot
        self.started = started
