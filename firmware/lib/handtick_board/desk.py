"""The command desk: reads what comes in on the wire, carries each command out once, and ignores what it can't trust.

A program greets first; from then on its commands carry ids that only go up. A command that comes again is answered
again and moves nothing. Lines without a check are taken only in typing mode, which a person turns on by typing
``typing on`` and a program's greeting turns off; anything else without a check is junk.
"""

from __future__ import annotations

from handtick_wire import framing, messages, reasons

from .clock_limits import MAY_STOP, ClockLimits
from .job import NOBODY
from .stop_rule import StopRule

# The id that answers to typed lines carry; a program's ids start at 1.
_TYPED_ID = 0

# Commands that move nothing and are answered ahead of what waits.
_AT_ONCE = ("hello", "status", "pull", "contact", "typing")

# Words that a command takes and no others.
_CHOICES = {
    "typing": ("on", "off"),
    "contact": ("on", "off"),
    "pull": ("up", "down", "none", "set"),
    "samples": ("all", "last", "auto"),
    "limits": MAY_STOP,
}
_LEVELS = ("low", "high")
_PRINTABLE = bytes(range(32, 127))


class CommandDesk:
    """Takes bytes in, calls the conductor, answers through the outbox.

    Args:
        conductor: carries commands out.
        outbox: takes answers.
        describe: a function that gives the fields of the ``hello`` report.
        status: a function that gives the fields of the ``status`` report.
        pull: a function that pulls the probes one way.
        tell_contact: a function that turns the telling of the tick button's edges on or off.
        refused: (name, why) of every setting the board had to refuse, told after each greeting.
        ready: the ``ReadySteps``.

    Attributes:
        damaged: pieces that were neither a whole command nor, in typing mode, a typed line.
        typing: whether typed lines are taken.
        parted: whether the host said goodbye.
    """

    def __init__(self, conductor, outbox, describe, status, pull, tell_contact, refused=(), ready=None) -> None:
        self.damaged = 0
        self.typing = False
        self.parted = False
        self._conductor = conductor
        self._outbox = outbox
        self._describe = describe
        self._status = status
        self._pull = pull
        self._tell_contact = tell_contact
        self._refused = refused
        self._ready = ready
        self._finder = framing.LineFinder(framing.COMMAND_START)
        self._nonce = -1
        self._greeted = False
        self._last_id = 0

    def take(self, data: bytes) -> None:
        """Takes what arrived, in any pieces."""
        for piece in self._finder.feed(data):
            if piece[:1] == framing.COMMAND_START:
                self._take_command(piece)
            else:
                self._take_typed(piece)

    def disconnected(self) -> None:
        """The port closed: the next program must greet; what it repeats of this greeting still ticks nothing."""
        self._finder.drop()
        self._greeted = False
        self.parted = False
        self.typing = False

    def _take_command(self, piece: bytes) -> None:
        opened = framing.open_frame(piece)
        numbers = _words(opened[0]) if opened is not None else None
        command_id = messages.read_number(numbers[0]) if numbers else None
        if not command_id or opened is None:
            self._damage()
            return
        # Whole, but perhaps not text: then it is no command this board knows.
        words = _words(opened[1]) or [""]
        if words[0] == "hello":
            self._greet(command_id, words)
        elif words == ["who"]:
            # Asked by whoever looks for boards: nothing that waits is handed to them.
            self._outbox.say_now("hello", **self._describe())
        elif not self._greeted:
            self._outbox.say_now("refused", id=command_id, why=reasons.NO_GREETING)
        elif command_id > self._last_id:
            self._last_id = command_id
            self._carry_out(command_id, words)
        elif not self._outbox.answer_again(command_id):
            # Either still under way, and will be answered, or too old to be remembered: it moves nothing.
            pass

    def _greet(self, command_id: int, words: list[str]) -> None:
        nonce = messages.read_number(words[1]) if len(words) == 2 else None
        if nonce is None:
            self._outbox.say_now("refused", id=command_id, why=reasons.BAD_FIELDS)
            return
        if nonce != self._nonce:
            self._nonce = nonce
            self._last_id = 0
            self._outbox.forget_answers()
        self._last_id = max(self._last_id, command_id)
        self._greeted = True
        self.parted = False
        self.typing = False
        self._introduce()
        self._done_at_once(command_id)

    def _take_typed(self, piece: bytes) -> None:
        words = _words(piece)
        if not words:
            if self._greeted or self.typing:
                self._damage()
        elif words == ["typing", "on"]:
            self.typing = True
            self._introduce()
        elif self.typing:
            self._carry_out(_TYPED_ID, words)
        elif self._greeted:
            self._damage()

    def _introduce(self) -> None:
        """Says who the board is, and from now on all that happens."""
        self._outbox.open = True
        self._outbox.say_now("hello", **self._describe())
        for name, why in self._refused:
            self._outbox.say("trouble", name=name, why=why)

    def _damage(self) -> None:
        self.damaged += 1
        self._outbox.say("notice", what=reasons.DAMAGED_COMMAND, count=self.damaged, us=0)

    def _carry_out(self, command_id: int, words: list[str]) -> None:
        kind = words[0]
        fields = messages.COMMANDS.get(kind)
        if fields is None or kind in ("hello", "who"):
            self._refuse(command_id, reasons.UNKNOWN if kind else reasons.BAD_FIELDS)
            return
        values = _read_fields(fields, words)
        if values is None or (kind in _CHOICES and values[0] not in _CHOICES[kind]):
            self._refuse(command_id, reasons.BAD_FIELDS)
        elif kind == "pull" and not self._conductor.clock.resting:
            self._refuse(command_id, reasons.RUNNING)
        elif kind in _AT_ONCE:
            self._answer_at_once(kind, values, command_id)
        else:
            self._conduct(kind, values, command_id)

    def _conduct(self, kind: str, values: list, command_id: int) -> None:
        conductor = self._conductor
        if kind == "step":
            conductor.step(values[0], command_id)
        elif kind == "half":
            conductor.half(command_id)
        elif kind == "run":
            conductor.run(values[0], command_id)
        elif kind == "burst":
            conductor.burst(values[0], values[1], command_id)
        elif kind == "to":
            conductor.advance_to(values[0], values[1], command_id)
        elif kind == "halt":
            conductor.halt(command_id)
        elif kind == "rate":
            conductor.change_rate(values[0], command_id)
        elif kind == "duty":
            conductor.set_duty(values[0], command_id)
        elif kind == "samples":
            conductor.sample(values[0], command_id)
        elif kind == "limits":
            conductor.limit(ClockLimits(*values), command_id)
        elif kind == "trigger":
            conductor.trigger_at(values[0], command_id)
        elif kind == "ready_line":
            self._ready_line(values, command_id)
        elif kind == "ready_hold":
            self._ready.hold(command_id)
        elif kind == "ready_step":
            self._ready.step(values[0], command_id)
        elif kind == "ready_go":
            self._ready.let_go(command_id)
        elif kind == "ignore_halt":
            conductor.ignore_halt(values[0], command_id)
        elif kind == "reset":
            conductor.reset(command_id)
        elif kind == "stop_when":
            self._stop_when(values[0], command_id)
        elif kind == "bye":
            # Answered in its place in the row: whoever waits for that has heard all that came before.
            self._greeted = False
            self.parted = True
            self._outbox.answer(command_id, "done", tick=conductor.clock.tick, edges=conductor.clock.edges)

    def _ready_line(self, values: list, command_id: int) -> None:
        ready, probe, ignored = values
        if ready not in _LEVELS or ignored not in _LEVELS or probe > messages.NO_PROBE:
            self._refuse(command_id, reasons.BAD_FIELDS)
        else:
            which = None if probe == messages.NO_PROBE else probe
            self._ready.wire(ready == "high", which, ignored == "high", command_id)

    def _stop_when(self, text: str, command_id: int) -> None:
        try:
            rule = None if text == "none" else StopRule(text)
        except (ValueError, IndexError):
            self._refuse(command_id, reasons.BAD_RULE)
            return
        self._conductor.stop_when(rule, command_id)

    def _answer_at_once(self, kind: str, values: list, command_id: int) -> None:
        if kind == "status":
            self._outbox.say_now("status", **self._status())
        elif kind == "pull":
            self._pull(values[0])
        elif kind == "contact":
            self._tell_contact(values[0])
        elif kind == "typing":
            self.typing = values[0] == "on"
        self._done_at_once(command_id)

    def _done_at_once(self, command_id: int) -> None:
        clock = self._conductor.clock
        self._outbox.answer(command_id, "done", urgent=True, tick=clock.tick, edges=clock.edges)

    def _refuse(self, command_id: int, why: str) -> None:
        if command_id != NOBODY:
            self._outbox.answer(command_id, "refused", why=why)


def _words(text: bytes) -> list[str] | None:
    """The words of a line in printable ASCII; None where it is anything else or empty."""
    if text.strip(_PRINTABLE):
        return None
    return text.decode().split() or None


def _read_fields(fields, words: list[str]) -> list | None:
    """A command's values in order; None where one is missing, surplus or not of its kind."""
    if len(words) - 1 != len(fields):
        return None
    values: list = []
    for place, word in enumerate(words[1:]):
        form = fields[place][1]
        value: int | str | None = word
        if form == messages.NUMBER:
            value = messages.read_number(word)
        elif form == messages.RATE:
            value = messages.read_rate(word)
        if value is None:
            return None
        values.append(value)
    return values
