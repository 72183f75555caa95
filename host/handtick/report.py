"""One page about a fault: what was run, what was found, the ticks as a diagram and a table, notes, and how it is wired.

The page is whole in itself: one HTML file without anything from elsewhere, to be kept, sent or printed.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape

from handtick.diagram import draw_svg, lay_out
from handtick.flags import flag_words
from handtick.log import Gap, Note, Run, Tick
from handtick.wiring import Wiring
from handtick_wire.described import sentence

_STYLE = """
:root{color-scheme:light dark;--ink:#141414;--ground:#fff;--faint:#555;--rule:#c8c8c8}
@media(prefers-color-scheme:dark){:root{--ink:#f2f2f2;--ground:#121212;--faint:#b4b4b4;--rule:#444}}
body{font:16px/1.5 sans-serif;max-width:76rem;margin:2rem auto;padding:0 1rem;color:var(--ink);background:var(--ground)}
h1{font-size:1.5rem}h2{font-size:1.15rem;margin-top:2rem}
table{border-collapse:collapse;font:14px/1.4 monospace}
th,td{text-align:left;padding:.15rem .9rem .15rem 0;border-bottom:1px solid var(--rule);vertical-align:top}
.picture{overflow-x:auto}.faint{color:var(--faint)}
@media print{body{margin:0;max-width:none}}
"""


@dataclass(frozen=True)
class Report:
    """What a report is about.

    Attributes:
        title: its heading.
        finding: what was found, in the writer's words; empty for nothing.
        board: id of the board.
        ticks: the ticks, in order.
        runs: the runs they belong to.
        notes: notes on them.
        gaps: gaps among them.
        wiring: the names.
    """

    title: str
    finding: str
    board: str
    ticks: Sequence[Tick]
    runs: Sequence[Run]
    notes: Sequence[Note]
    gaps: Sequence[Gap]
    wiring: Wiring


def report_html(report: Report) -> str:
    """The page."""
    picture = draw_svg(lay_out(report.ticks, report.wiring, report.notes, report.runs))
    last = report.ticks[-1]
    about = (
        f"Board {report.board}, ticks {report.ticks[0].tick} to {last.tick} of reset {last.reset}, boot {last.boot}."
    )
    parts = [
        f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{escape(report.title)}</title>'
        f'<meta name="viewport" content="width=device-width"><style>{_STYLE}</style></head><body>',
        f"<h1>{escape(report.title)}</h1>",
        f'<p class="faint">{escape(about)} Made with handtick.</p>',
        *([f"<h2>Finding</h2><p>{escape(report.finding)}</p>"] if report.finding else []),
        f'<h2>Ticks</h2><div class="picture">{picture}</div>',
        _table(["tick", *(bus.name for bus in report.wiring.shown), ""], _tick_rows(report)),
        "<h2>What was run</h2>",
        _table(["began (UTC)", "asked", "ticks", "why it stopped"], map(_run_row, report.runs)),
        *_notes(report.notes),
        *_gaps(report.gaps),
        "<h2>Wiring</h2>",
        _table(["name", "probes", "shown as"], _wiring_rows(report.wiring)),
        "</body></html>",
    ]
    return "\n".join(parts) + "\n"


def _tick_rows(report: Report) -> Iterable[list[str]]:
    for tick in report.ticks:
        row = [str(tick.tick)]
        for bus in report.wiring.shown:
            texts = ["-" if each is None else bus.text(bus.value(each)) for each in (tick.early, tick.late)]
            row.append(texts[0] if texts[0] == texts[1] else f"{texts[0]} > {texts[1]}")
        words = report.wiring.instruction_words(tick.early) if tick.early is not None else ""
        flags = flag_words(tick.flags)
        yield [*row, ", ".join(filter(None, [words, *flags]))]


def _run_row(run: Run) -> list[str]:
    last = "still open" if run.last_tick is None else str(run.last_tick)
    return [run.started_utc, run.asked.replace(":", " "), f"{run.first_tick} to {last}", sentence(run.why or "")]


def _notes(notes: Sequence[Note]) -> list[str]:
    rows = [[str(note.tick), note.text, note.host_utc] for note in notes]
    return ["<h2>Notes</h2>", _table(["tick", "note", "written (UTC)"], rows)] if rows else []


def _gaps(gaps: Sequence[Gap]) -> list[str]:
    rows = [[f"{gap.first_tick} to {gap.last_tick}", sentence(gap.why)] for gap in gaps]
    return ["<h2>Gaps</h2>", _table(["ticks", "why they have no samples"], rows)] if rows else []


def _wiring_rows(wiring: Wiring) -> Iterable[list[str]]:
    for bus in wiring.shown:
        probes = ", ".join(map(str, bus.probes))
        yield [bus.name, probes, ("inverted, " if bus.inverted else "") + bus.show]


def _table(heading: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    head = "".join(f"<th>{escape(cell)}</th>" for cell in heading)
    body = "\n".join("<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>" for row in rows)
    return f'<div class="picture"><table><tr>{head}</tr>\n{body}</table></div>'
