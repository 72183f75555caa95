"""`handtick diagram` and `handtick report`: ticks of the log as a picture, and as a page about a fault."""

from __future__ import annotations

import shutil
from pathlib import Path

from handtick.cli.common import Common
from handtick.cli.logs import chosen
from handtick.cli.printer import Printer
from handtick.diagram import Picture, draw_svg, draw_text, lay_out
from handtick.errors import HandtickError, UsageError
from handtick.log import Run
from handtick.quantities import span_of
from handtick.report import Report, report_html
from handtick.whole_file import check_place, write_whole

_MOST_TICKS = 512
_THEMES = ("auto", "light", "dark")


def diagram(common: Common, ticks: str, lines: str | None, svg: Path | None, png: Path | None, theme: str) -> None:
    """Draws a diagram in the terminal, or to files."""
    span = span_of(ticks)
    if span[1] - span[0] >= _MOST_TICKS:
        raise UsageError(f"--ticks {ticks}: a diagram has at most {_MOST_TICKS} ticks")
    if theme not in _THEMES:
        raise UsageError(f"--theme {theme}: there are {', '.join(_THEMES)}")
    for path in (svg, png):
        if path is not None:
            check_place(path)
    picture = _picture(common, span, lines)
    printer = Printer(common.json, common.quiet)
    if svg is None and png is None:
        printer.answer(
            draw_text(picture, shutil.get_terminal_size((100, 24)).columns),
            kind="diagram",
            ticks=[column.label for column in picture.columns if not column.missing],
            lines=[track.name for track in picture.tracks],
        )
    if svg is not None:
        _write(printer, svg, draw_svg(picture, theme).encode())
    if png is not None:
        _write(printer, png, _png(picture, theme))


def report(common: Common, file: Path, ticks: str, title: str | None, finding: str | None) -> None:
    """Writes a page about a stretch of ticks."""
    span = span_of(ticks)
    if span[1] - span[0] >= _MOST_TICKS:
        raise UsageError(f"--ticks {ticks}: a report has at most {_MOST_TICKS} ticks")
    check_place(file)
    wiring = common.find_wiring()
    with common.open_log() as log, log.one_instant():
        rows = list(chosen(log, span))
        if not rows:
            raise UsageError(f"the log has none of the ticks {span[0]} to {span[1]} in its latest reset")
        boot, reset = rows[0].boot, rows[0].reset
        page = Report(
            title or f"Ticks {rows[0].tick} to {rows[-1].tick}",
            finding or "",
            log.board_id,
            rows,
            [run for run in log.runs() if (run.boot, run.reset) == (boot, reset) and _meets(run, span)],
            [note for note in log.notes() if (note.boot, note.reset) == (boot, reset) and note.tick in _ticks(span)],
            [gap for gap in log.gaps() if (gap.boot, gap.reset) == (boot, reset) and gap.first_tick in _ticks(span)],
            wiring,
        )
    _write(Printer(common.json, common.quiet), file, report_html(page).encode())


def _meets(run: Run, span: tuple[int, int]) -> bool:
    return run.first_tick <= span[1] and (run.last_tick is None or run.last_tick >= span[0])


def _ticks(span: tuple[int, int]) -> range:
    return range(span[0], span[1] + 1)


def _picture(common: Common, span: tuple[int, int], lines: str | None) -> Picture:
    wiring = common.find_wiring()
    names = [] if lines is None else [name.strip() for name in lines.split(",")]
    there = [bus.name for bus in wiring.shown]
    for name in names:
        if name not in there:
            raise UsageError(f"--lines: there is no bus or line {name!r}; there are {', '.join(there)}")
    with common.open_log() as log, log.one_instant():
        rows = list(chosen(log, span))
        if not rows:
            raise UsageError(f"the log has none of the ticks {span[0]} to {span[1]} in its latest reset")
        return lay_out(rows, wiring, log.notes(), log.runs(), names)


def _png(picture: Picture, theme: str) -> bytes:
    try:
        import cairosvg
    except ImportError as error:
        raise HandtickError("PNG needs cairosvg; run: pip install 'handtick[png]'") from error
    # A PNG has no reader whose screen could be asked.
    data: bytes = cairosvg.svg2png(draw_svg(picture, "light" if theme == "auto" else theme).encode(), scale=2)
    return data


def _write(printer: Printer, path: Path, data: bytes) -> None:
    write_whole(path, data)
    printer.answer(f"wrote {path}", kind="file", name=str(path), what="written")
