"""Commands that write, show and draw what a log has, and the panel."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

from handtick.cli.common import Common
from handtick.cli.parser import Parser
from handtick.cli.topics.topic import Topic

TOPIC = Topic("Seeing what happened")


def _note_arguments(parser: Parser) -> None:
    parser.add_argument("text", metavar="TEXT", help="What to write down.")
    parser.add_argument("--tick", metavar="TICK", help="The tick it is about. Without it, the last one.")
    parser.add_argument("--run", metavar="N", help="The run it is about, such as what you changed before it.")


@TOPIC.command("note", _note_arguments)
def note(common: Common, given: Namespace) -> None:
    """Write a note on a tick or a run into the log."""
    from handtick.cli import logs

    logs.note(common, given.text, given.tick, given.run)


LOG = TOPIC.under("log", "Look into a tick log.")


@LOG.command("list")
def log_list(common: Common, given: Namespace) -> None:
    """List the runs of a log, with why each stopped."""
    from handtick.cli import logs

    logs.list_runs(common)


def _log_show_arguments(parser: Parser) -> None:
    parser.add_argument("--last", metavar="N", help="Only so many ticks at the end.")
    parser.add_argument("--ticks", metavar="A..B", help="Only these ticks.")
    parser.add_argument("--where", metavar="RULE", help="Only ticks where this holds, such as: data == 0x2A")


@LOG.command("show", _log_show_arguments)
def log_show(common: Common, given: Namespace) -> None:
    """Print what a log holds: runs with why they stopped, every tick, gaps, damage and notes."""
    from handtick.cli import show

    show.show_log(common, given.last, given.ticks, given.where)


@LOG.command("check")
def log_check(common: Common, given: Namespace) -> None:
    """Say what a log holds, what is missing and what does not add up."""
    from handtick.cli import logs

    logs.check_log(common)


def _log_export_arguments(parser: Parser) -> None:
    parser.add_argument("file", metavar="FILE", help="Ends in .csv, .jsonl, .vcd or .parquet; or -.")
    parser.add_argument("--ticks", metavar="A..B", help="Only these ticks.")
    parser.add_argument("--form", metavar="FORM", help="csv, jsonl, vcd or parquet.")
    parser.add_argument(
        "--times", action="store_true", default=True, help="CSV has the ticks' times, as it has without this."
    )
    parser.add_argument("--no-times", dest="times", action="store_false", help="CSV has no times of ticks.")


@LOG.command("export", _log_export_arguments)
def log_export(common: Common, given: Namespace) -> None:
    """Write the ticks of a log to a CSV, JSON Lines, VCD or Parquet file."""
    from handtick.cli import logs

    logs.export(common, given.file, given.ticks, given.form, given.times)


def _diagram_arguments(parser: Parser) -> None:
    parser.add_argument("--ticks", metavar="A..B", required=True, help="Which ticks.")
    parser.add_argument("--lines", metavar="LIST", help="Which buses and lines, with commas between.")
    parser.add_argument("--svg", metavar="FILE", type=Path, help="Write an SVG file.")
    parser.add_argument("--png", metavar="FILE", type=Path, help="Write a PNG file.")
    parser.add_argument("--theme", metavar="NAME", default="auto", help="auto, light or dark.")


@TOPIC.command("diagram", _diagram_arguments)
def diagram(common: Common, given: Namespace) -> None:
    """Draw ticks of the log as a timing diagram, in the terminal or as a picture."""
    from handtick.cli import diagram as drawing

    drawing.diagram(common, given.ticks, given.lines, given.svg, given.png, given.theme)


def _report_arguments(parser: Parser) -> None:
    parser.add_argument("file", metavar="FILE", type=Path, help="The HTML file to write.")
    parser.add_argument("--ticks", metavar="A..B", required=True, help="Which ticks it is about.")
    parser.add_argument("--title", metavar="TEXT", help="Its heading.")
    parser.add_argument("--finding", metavar="TEXT", help="What was found.")


@TOPIC.command("report", _report_arguments)
def report(common: Common, given: Namespace) -> None:
    """Write one page about a fault: ticks as a diagram and a table, what was run, notes, and the wiring."""
    from handtick.cli import diagram as drawing

    drawing.report(common, given.file, given.ticks, given.title, given.finding)


@TOPIC.command("panel")
def panel(common: Common, given: Namespace) -> None:
    """Open a window for the evening: the clock, the buses, the last ticks, and keys for all of it."""
    from handtick.cli import panel as window

    window.panel(common)
