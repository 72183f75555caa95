"""The tick button: its contact's edges go to the one-shot; on request they are told to the host, and make no ticks."""

from __future__ import annotations

from handtick_wire import reasons

# So often edges that come while others are looked at are taken too.
_MOST_TAKES = 4


class TickButton:
    """Watches the contact.

    Args:
        contact: ``edges(now_us)`` gives its edges since the last call as (board time, closed) pairs; (board time, None)
            where some are lost, before where it stands.
        now_us: gives the board time.
        one_shot: judges them.
        outbox: takes reports; its ``time`` makes board times whole.
        press: called at each press.

    Attributes:
        telling: whether every edge is told, and no press ticks.
    """

    def __init__(self, contact, now_us, one_shot, outbox, press) -> None:
        self.telling = False
        self._contact = contact
        self._now_us = now_us
        self._one_shot = one_shot
        self._outbox = outbox
        self._press = press
        self._spikes = 0

    def tell(self, switch: str) -> None:
        """With "on", tells where the contact stands and from then on every edge; with "off", no more."""
        self.telling = switch == "on"
        if self.telling:
            self._say(self._outbox.now_us(), self._one_shot.closed)

    def watch(self, now_us: int) -> None:
        """Takes in what the contact has done."""
        one_shot = self._one_shot
        edges = self._contact.edges(now_us)
        if not edges and one_shot.settled:
            return
        # What is told makes no ticks.
        telling = self.telling
        takes = 1
        while True:
            for at_us, closed in edges:
                if closed is None:
                    one_shot.lose(at_us)
                    if telling:
                        self._outbox.drop()
                    continue
                if telling:
                    self._say(self._outbox.time.full_us(at_us), closed)
                if one_shot.edge(at_us, closed) and not telling:
                    self._press()
            if edges:
                # By now a contact that has just closed may have been closed for long enough, if it still is.
                now_us = self._now_us()
            if not self._contact.waiting:
                break
            if takes == _MOST_TAKES:
                return
            takes += 1
            edges = self._contact.edges(now_us)
        if one_shot.poll(now_us) and not telling:
            self._press()
        if one_shot.spikes != self._spikes:
            self._spikes = one_shot.spikes
            if not telling:
                self._outbox.say("notice", what=reasons.SPIKE, count=one_shot.spikes, us=0)

    def _say(self, time_us: int, closed: bool) -> None:
        self._outbox.say("contact", closed=1 if closed else 0, time_us=time_us)
