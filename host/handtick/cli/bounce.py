"""`handtick bounce`: how the tick button bounces, what three rules make of it, and which times suit it."""

from __future__ import annotations

from pathlib import Path

from handtick.bounce import Advice, Press, Train, advise, judge, presses_of, read_train, write_train
from handtick.bounce.analysis import MARGIN
from handtick.bounce.outcome import outcome
from handtick.bounce.picture import distribution_rows, press_rows
from handtick.bounce.record import record_presses
from handtick.bounce.rules import OURS
from handtick.bounce.svg import presses_svg
from handtick.cli.common import Common
from handtick.cli.installing import the_drive
from handtick.cli.printer import Printer
from handtick.cli.table import Columns
from handtick.errors import UsageError
from handtick.install.plan import SETTINGS
from handtick.settings_file import change_settings
from handtick.whole_file import check_place, write_whole
from handtick_board.one_shot import PRESS_US, REARM_US
from handtick_wire.messages import read_number

_RULES = Columns(("rule", "presses", "ticks", "missed", "extra", "late by at most"), (-24, 7, 5, 6, 5, -1))
_MOST_PRESSES = 1000


def bounce(
    common: Common, presses: str, file: Path | None, save: Path | None, svg: Path | None, write: bool, to: Path | None
) -> None:
    """Records presses, or reads a recording, and says what there is to say of it."""
    for path in (save, svg):
        if path is not None:
            # Before somebody presses a button so many times for it.
            check_place(path)
    printer = Printer(common.json, common.quiet, rows=False)
    train = _recorded(common, printer, presses) if file is None else read_train(file)
    if save is not None:
        write_train(save, train)
    found = presses_of(train)
    advice = advise(found)
    _tell_presses(printer, common.json, found)
    _tell_rules(printer, common.json, train, found, advice)
    _tell_advice(printer, advice)
    if svg is not None:
        _draw(svg, train, found)
        printer.answer(f"drawn in {svg}", kind="file", name=str(svg), what="written")
    if write:
        settings = (the_drive() if to is None else to) / SETTINGS
        change_settings(
            settings, {"HANDTICK_PRESS_US": str(advice.press_us), "HANDTICK_REARM_US": str(advice.rearm_us)}
        )
        printer.answer(
            f"written to {settings}; the board takes them at its next start",
            kind="settings",
            file=str(settings),
            press_us=advice.press_us,
            rearm_us=advice.rearm_us,
        )


def _recorded(common: Common, printer: Printer, presses: str) -> Train:
    wanted = read_number(presses)
    if wanted is None or not 1 <= wanted <= _MOST_PRESSES:
        raise UsageError(f"--presses {presses}: record 1 to {_MOST_PRESSES} presses")
    with common.open_bench(printer) as bench:
        printer.warn(f"press the tick button {wanted} times, as you will; it makes no ticks meanwhile. Ctrl-C: enough")
        return record_presses(bench, wanted, lambda count: printer.warn(f"{count} of {wanted}"))


def _draw(path: Path, train: Train, found: list[Press]) -> None:
    write_whole(path, presses_svg(found, judge(train)).encode())


def _tell_presses(printer: Printer, as_json: bool, found: list[Press]) -> None:
    if as_json:
        for press in found:
            printer.answer(
                "",
                kind="press",
                start_us=press.start_us,
                held_us=press.held.length_us,
                press_bounce_us=press.press_bounce_us,
                release_bounce_us=press.release_bounce_us,
                longest_gap_us=press.longest_gap_us,
                spike=press.is_spike,
            )
        return
    if not found:
        printer.answer("the contact never closed")
        return
    real = [press for press in found if not press.is_spike]
    printer.answer("\n".join([*press_rows(found), "", *distribution_rows(real), ""]))


def _tell_rules(printer: Printer, as_json: bool, train: Train, found: list[Press], advice: Advice) -> None:
    presses = [press for press in found if not press.is_spike]
    rules = judge(train, PRESS_US, REARM_US)
    suited = judge(train, advice.press_us, advice.rearm_us)[OURS]
    rules[f"{OURS}, suited"] = suited
    if not as_json:
        printer.answer(_RULES.heading())
    for name, ticks in rules.items():
        did = outcome(found, ticks)
        late = "-" if did.latest_us is None else f"{did.latest_us / 1000:g} ms"
        printer.answer(
            _RULES.row(name, len(presses), did.ticks, did.missed, did.extra, late),
            kind="rule",
            rule=name,
            presses=len(presses),
            ticks=did.ticks,
            missed=did.missed,
            extra=did.extra,
            latest_us=did.latest_us,
        )


def _tell_advice(printer: Printer, advice: Advice) -> None:
    printer.answer(
        f"\nlongest gap inside a press {advice.longest_gap_us} us, longest spike {advice.longest_spike_us} us\n"
        f"press time {advice.press_us} us, re-arm time {advice.rearm_us} us: {MARGIN} times that, or the least",
        kind="advice",
        press_us=advice.press_us,
        rearm_us=advice.rearm_us,
        longest_gap_us=advice.longest_gap_us,
        longest_spike_us=advice.longest_spike_us,
        warnings=list(advice.warnings),
    )
    for warning in advice.warnings:
        printer.warn(warning)
