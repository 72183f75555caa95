"""What a session hears: one record per thing that happened, each with the place it happened at."""

import itertools
from collections.abc import Iterator, Sequence
from typing import NamedTuple


class Greeting(NamedTuple):
    """The board said who it is.

    Attributes:
        boot: start number of the board; a new one means that it restarted.
        reset: resets since that start.
        tick: tick number now.
        edges: active edges since the start.
        fields: everything the greeting said, by name.
        restarted: whether this session knew the board at another boot number before.
    """

    boot: int
    reset: int
    tick: int
    edges: int
    fields: dict[str, int | str]
    restarted: bool = False


class Tick(NamedTuple):
    """One whole tick.

    Attributes:
        early: probes just before the active edge: what was captured.
        late: probes just before the other edge: what it became.
        time_us: board time of the active edge, microseconds since the board started.
        flags: ``handtick_wire.messages.FLAG_...`` bits.
    """

    boot: int
    reset: int
    tick: int
    early: int
    late: int
    time_us: int
    flags: int


class Block(NamedTuple):
    """The whole ticks of one burst, in a row; ``ticks`` gives them one by one.

    Attributes:
        first: number of the first tick.
        early, late: samples of each, as in ``Tick``.
        time_us: board time of the first active edge.
        period_ps: picoseconds from one active edge to the next.
        flags: of every tick.
    """

    boot: int
    reset: int
    first: int
    early: Sequence[int]
    late: Sequence[int]
    time_us: int
    period_ps: int
    flags: int

    @property
    def last(self) -> int:
        """Number of the last tick."""
        return self.first + len(self.early) - 1

    @property
    def times_us(self) -> Sequence[int]:
        """Board time of each active edge, in microseconds."""
        period_us, rest_ps = divmod(self.period_ps, 1_000_000)
        if period_us and not rest_ps:
            return range(self.time_us, self.time_us + len(self.early) * period_us, period_us)
        return [self.time_us + at * self.period_ps // 1_000_000 for at in range(len(self.early))]

    def ticks(self) -> Iterator[Tick]:
        """The ticks."""
        return map(Tick._make, self.rows())

    def rows(self) -> Iterator[tuple[int, int, int, int, int, int, int]]:
        """Boot, reset, tick, early, late, time_us and flags of each tick."""
        same = itertools.repeat
        numbers = range(self.first, self.last + 1)
        return zip(  # noqa: B905 - three of them never end
            same(self.boot), same(self.reset), numbers, self.early, self.late, self.times_us, same(self.flags)
        )


class Half(NamedTuple):
    """One edge alone: ``phase`` is "lead" (away from the rest level) or "trail", ``probes`` what they hold now."""

    boot: int
    reset: int
    tick: int
    phase: str
    early: int
    probes: int
    time_us: int


class State(NamedTuple):
    """The clock began, stopped or changed: its mode, why, what had been asked (such as ``step:3``), and the rate that
    the clock gives, "0" where it is at no rate."""

    boot: int
    reset: int
    tick: int
    edges: int
    mode: str
    why: str
    asked: str
    time_us: int
    rate: str = "0"


class Cycle(NamedTuple):
    """A machine whose clock runs on was let go for one cycle by the ready line, and is held again.

    Attributes:
        tick: the last tick that was accounted for; the clock runs on without telling.
        number: counts such cycles from 1, since the machine was held.
        early, late: what the probes held before it and after it, with the machine held.
        passed: cycles that the machine went through after it although it was not ready.
        time_us: board time at which it was held again.
    """

    boot: int
    reset: int
    tick: int
    number: int
    early: int
    late: int
    passed: int
    time_us: int


class ResetDone(NamedTuple):
    """The machine was reset: ``reset`` is the new reset number, ``last_tick`` the last tick before it."""

    boot: int
    reset: int
    last_tick: int
    edges: int


class Gap(NamedTuple):
    """Ticks ``first`` to ``last`` happened, but their records did not arrive."""

    boot: int
    reset: int
    first: int
    last: int
    why: str


class Unplaced(NamedTuple):
    """``count`` ticks happened before reset ``reset`` whose numbers are not known."""

    boot: int
    reset: int
    count: int  # type: ignore[assignment]  # and not what tuples call so
    why: str


class Damage(NamedTuple):
    """Bytes that were no line; ``lines`` is how many lines the running numbers say are missing (0: none known)."""

    raw: bytes
    lines: int = 0


class Notice(NamedTuple):
    """Something the board noticed: ``what`` is a word of ``handtick_wire.reasons``."""

    what: str
    count: int  # type: ignore[assignment]  # and not what tuples call so
    us: int


class Contact(NamedTuple):
    """The tick button's contact closed or opened, or, first, where it stands; told only while asked for.

    Attributes:
        closed: whether it is made from then on.
        time_us: board time, microseconds since the board started.
    """

    closed: bool
    time_us: int


class Trouble(NamedTuple):
    """The board refused a setting or a pin map at its start and goes on without: which, and why."""

    name: str
    why: str


class Status(NamedTuple):
    """The board's answer to ``status``, by name."""

    fields: dict[str, int | str]


class Answer(NamedTuple):
    """The one answer to a command: ``kind`` is "done", "refused" or "failed"; ``why`` is empty when done."""

    command_id: int
    kind: str
    why: str = ""
    tick: int = 0
    edges: int = 0


Event = (
    Greeting
    | Tick
    | Block
    | Half
    | Cycle
    | State
    | ResetDone
    | Gap
    | Unplaced
    | Damage
    | Notice
    | Contact
    | Trouble
    | Status
    | Answer
)
