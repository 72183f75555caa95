"""Compares two parts of a log, however long."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from handtick.compare.diagnose import Diagnosis, Finding
from handtick.compare.slips import MOST_SLIP
from handtick.compare.trace import Lines, Row, Trace, side_by_side
from handtick.log import LogReader, Part
from handtick.log.together import StretchOfBoth, alike, together


def diagnose_logged(
    log: LogReader,
    lines: Lines,
    expected: Part,
    seen: Part,
    late: bool = False,
    starts: Callable[[Row], bool] | None = None,
) -> Finding:
    """As ``diagnose`` of the traces of two parts of a log.

    Args:
        log: the log.
        lines: the lines of its samples.
        expected: what should have been.
        seen: what was.
        late: whether late samples are compared, and not early ones.
        starts: whether an instruction starts at a row; None where nobody knows.
    """
    with log.one_instant():
        same = alike(log, expected, seen, late)
        if same is not None:
            return Finding(None, (), 0, 0, same, 0, ())
        diagnosis = Diagnosis(lines.names, starts)
        for piece in together(log, expected, seen, late, beyond=MOST_SLIP):
            if isinstance(piece, StretchOfBoth):
                diagnosis.take_samples(lines, *piece)
            else:
                diagnosis.take(side_by_side(lines.rows(piece.one), lines.rows(piece.other)))
        return diagnosis.finding()


def rows_beside(trace: Trace, log: LogReader, lines: Lines, part: Part, late: bool) -> Iterator[Row]:
    """Those rows of a part of a log that a comparison with a trace has to do with, one at a time."""
    if not trace.rows:
        return iter(())
    near = part.within(trace.rows[0].tick - MOST_SLIP, trace.rows[-1].tick + MOST_SLIP)
    return lines.rows(log.samples(near, late)) if near.first <= near.last else iter(())
