"""What a timing diagram shows, in halves of ticks: before the active edge, and after it.

A tick's first half has its early sample, what the edge captures; the second its late sample, what the tick made of it.
Values that go on unchanged are one segment. Ticks that are missing are one column with nothing in it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from handtick.log import Note, Run, Tick
from handtick.wiring import Bus, Wiring
from handtick_wire.described import sentence
from handtick_wire.messages import FLAG_DISAGREED, FLAG_IN_RESET, FLAG_UNSETTLED


@dataclass(frozen=True, slots=True)
class Column:
    """A tick, or the ticks missing between two.

    Attributes:
        label: the tick's number; of missing ticks, how many.
        missing: whether it stands for missing ticks.
        doubtful: whether its samples are unsettled, or the probes disagreed.
        in_reset: whether the tick was made under reset.
        notes: numbers of the notes on it, from 1, as in ``Picture.notes``.
        stop: why the clock stopped after it; empty where it went on.
    """

    label: str
    missing: bool = False
    doubtful: bool = False
    in_reset: bool = False
    notes: tuple[int, ...] = ()
    stop: str = ""


@dataclass(frozen=True, slots=True)
class Segment:
    """A stretch of one value.

    Attributes:
        start, end: in halves from the left, the end not included.
        value: the value; None where nobody looked.
        text: as it is to be shown.
    """

    start: int
    end: int
    value: int | None
    text: str


@dataclass(frozen=True, slots=True)
class Track:
    """One row: a bus, or a single line drawn as a level."""

    name: str
    is_line: bool
    segments: tuple[Segment, ...]


@dataclass(frozen=True)
class Picture:
    """All of a diagram."""

    columns: tuple[Column, ...]
    tracks: tuple[Track, ...]
    notes: tuple[str, ...]
    stops: tuple[str, ...]

    @property
    def halves(self) -> int:
        """Its width."""
        return 2 * len(self.columns)


def lay_out(
    ticks: Sequence[Tick],
    wiring: Wiring,
    notes: Iterable[Note] = (),
    runs: Iterable[Run] = (),
    lines: Sequence[str] = (),
) -> Picture:
    """Lays ticks out.

    Args:
        ticks: the ticks, in order.
        wiring: names the rows.
        notes: notes; those on these ticks are marked.
        runs: runs; where one ended, the stop is marked.
        lines: names of the rows to show; all where it is empty.

    Raises:
        KeyError: a name is no bus or line.
    """
    rows = list(wiring.shown)
    if lines:
        known = {bus.name: bus for bus in rows}
        rows = [known[name] for name in lines]
    stops = {(run.boot, run.reset, run.last_tick): sentence(run.why or "") for run in runs if run.last_tick is not None}
    texts: list[str] = []
    columns: list[Column] = []
    samples: list[int | None] = []
    before: Tick | None = None
    for tick in ticks:
        if before is not None and (tick.boot, tick.reset, tick.tick) != (before.boot, before.reset, before.tick + 1):
            columns.append(Column(_missing(before, tick), missing=True))
            samples += [None, None]
        marks = []
        for note in notes:
            if (note.boot, note.reset, note.tick) == tick.key:
                texts.append(f"tick {tick.tick}: {note.text}")
                marks.append(len(texts))
        columns.append(
            Column(
                str(tick.tick),
                doubtful=bool(tick.flags & (FLAG_UNSETTLED | FLAG_DISAGREED)),
                in_reset=bool(tick.flags & FLAG_IN_RESET),
                notes=tuple(marks),
                stop=stops.get(tick.key, ""),
            )
        )
        samples += [tick.early, tick.late]
        before = tick
    tracks = tuple(Track(bus.name, bus.width == 1, _segments(bus, samples)) for bus in rows)
    told = tuple(f"after tick {column.label}: {column.stop}" for column in columns if column.stop)
    return Picture(tuple(columns), tracks, tuple(texts), told)


def _missing(before: Tick, tick: Tick) -> str:
    if (before.boot, before.reset) == (tick.boot, tick.reset):
        return f"{tick.tick - before.tick - 1} missing"
    return "reset" if before.boot == tick.boot else "restart"


def _segments(bus: Bus, samples: Sequence[int | None]) -> tuple[Segment, ...]:
    segments: list[Segment] = []
    for place, sample in enumerate(samples):
        value = None if sample is None else bus.value(sample)
        if segments and segments[-1].value == value:
            last = segments[-1]
            segments[-1] = Segment(last.start, place + 1, value, last.text)
        else:
            segments.append(Segment(place, place + 1, value, "" if value is None else bus.text(value)))
    return tuple(segments)
