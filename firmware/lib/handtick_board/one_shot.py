"""The one-shot: one press in, one tick out, whatever the contact does.

It fires once the contact has been made for the press time without a break. It can fire again only after the contact
has been open for the re-arm time without a break. Between the two nothing counts: not a long hold, not the bounce at
release. Fed with edges and times, it does not care whether they were stamped by hardware or noticed by a loop.
"""

from __future__ import annotations

from .us_time import elapsed_us

PRESS_US = 100
REARM_US = 20_000


class OneShot:
    """Judges one contact.

    Args:
        press_us: how long the contact must be made before the one-shot fires, in microseconds, 1 or more.
        rearm_us: how long it must be open before it can fire again, in microseconds, 1 or more.

    Attributes:
        spikes: closures too short to be a press, seen while the one-shot could have fired.
        longest_gap_us: longest opening inside a press, that is, after firing and closed again before re-arming.
        longest_bounce_us: longest burst of edges, first to last, each within the re-arm time of the one before. A press
            held for less than the re-arm time counts whole.
        settled: whether only an edge can change anything, so that ``poll`` need not be called.
    """

    def __init__(self, press_us: int = PRESS_US, rearm_us: int = REARM_US) -> None:
        self.press_us = press_us
        self.rearm_us = rearm_us
        self.spikes = 0
        self.longest_gap_us = 0
        self.longest_bounce_us = 0
        self.settled = True
        self._known = False
        self._closed = False
        self._armed = False
        self._edge_us = 0
        self._burst_us = 0
        self._in_burst = False

    @property
    def closed(self) -> bool:
        """The contact's level as last fed."""
        return self._closed

    @property
    def armed(self) -> bool:
        """Whether the next press fires."""
        return self._armed

    def edge(self, at_us: int, closed: bool) -> bool:
        """Takes the contact's level from time ``at_us`` on; a level that repeats is no edge.

        The first level ever given is where the contact stands: a contact found closed must open for the re-arm time
        before it can fire.

        Returns:
            Whether the one-shot fired at or before ``at_us``, that is, once per press.
        """
        if self.settled and closed and self._armed:
            # As below, but most of all this is not to take long: the press begins that everybody waits for.
            self.settled = False
            self._closed = self._in_burst = True
            self._edge_us = self._burst_us = at_us
            return False
        self.settled = False
        if not self._known:
            self._known = True
            self._armed = not closed
            self._closed = closed
            self._edge_us = at_us
            return False
        if closed == self._closed:
            return self.poll(at_us)
        fired = self._passes(at_us)
        since_us = elapsed_us(at_us, self._edge_us)
        if closed:
            if not self._armed and since_us > self.longest_gap_us:
                self.longest_gap_us = since_us
        elif self._armed:
            self.spikes += 1
        self._note_bounce(at_us)
        self._closed = closed
        self._edge_us = at_us
        return fired

    def lose(self, at_us: int) -> None:
        """Edges went by that nobody could see: until the contact has been open for the re-arm time, there is no press.

        What went by while the one-shot could have fired counts as one spike; where the contact stands is given next.
        """
        if self._armed:
            self.spikes += 1
        self._known = self._closed = True
        self._armed = self._in_burst = self.settled = False
        self._edge_us = at_us

    def poll(self, now_us: int) -> bool:
        """Lets time pass to ``now_us`` without an edge; returns whether the one-shot fired by then."""
        fired = self._passes(now_us)
        self.settled = not fired and self._known and self.due_us() is None
        return fired

    def due_us(self) -> int | None:
        """Board time at which ``poll`` has something to decide next; None where only an edge can change anything."""
        if not self._known:
            return None
        if self._closed and self._armed:
            return self._edge_us + self.press_us
        if not self._closed and not self._armed:
            return self._edge_us + self.rearm_us
        return self._edge_us + self.rearm_us if self._in_burst else None

    def _passes(self, now_us: int) -> bool:
        """Time passes; returns whether that made it fire."""
        if not self._known:
            return False
        since_us = elapsed_us(now_us, self._edge_us)
        if self._in_burst and since_us >= self.rearm_us:
            self._in_burst = False
        if self._closed:
            if self._armed and since_us >= self.press_us:
                self._armed = False
                return True
        elif not self._armed and since_us >= self.rearm_us:
            self._armed = True
        return False

    def _note_bounce(self, at_us: int) -> None:
        if not self._in_burst:
            self._in_burst = True
            self._burst_us = at_us
            return
        length_us = elapsed_us(at_us, self._burst_us)
        if length_us > self.longest_bounce_us:
            self.longest_bounce_us = length_us
