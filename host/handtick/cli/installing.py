"""`handtick install`: the firmware onto a board's drive, and what the board says after its restart."""

from __future__ import annotations

import contextlib
import time
from pathlib import Path

from handtick.bench import Bench
from handtick.cli.common import Common
from handtick.cli.printer import Printer
from handtick.discovery import Found, ask_all
from handtick.errors import HandtickError, NoBoard, Refused, UsageError
from handtick.install import Folder, Plan, compare, find_drives, install, make_plan
from handtick.install.drive import BOOT_OUT, check_version
from handtick.install.plan import SETTINGS
from handtick.links.serial_port import SerialLink

_RESTART_S = 90.0


def install_firmware(common: Common, to: Path | None, check: bool, compiler: Path | None) -> None:
    """Installs, or with ``check`` compares."""
    plan = make_plan(compiler)
    path = the_drive() if to is None else to
    if not path.is_dir():
        raise UsageError(f"{path}: there is no such folder; make it, or leave --to out to find the board's drive")
    drive = Folder(path)
    printer = Printer(common.json, common.quiet)
    boot_out = drive.read(BOOT_OUT)
    if boot_out is not None:
        check_version(boot_out.decode("utf-8", "replace"), str(path))
    if check:
        _report(printer, path, drive, plan)
        return
    before = {_identity(each) for each in ask_all()} if boot_out is not None else set()
    kept = drive.read(SETTINGS) is not None
    install(drive, plan, lambda name: None if common.json else printer.answer(f"wrote {name}"))
    form = "compiled modules" if plan.compiled else "source"
    keeping = f"; {SETTINGS} is yours and was kept" if kept else ""
    printer.answer(
        f"{path}: complete, {len(plan.files)} files of {form}{keeping}",
        kind="installed",
        drive=str(path),
        files=len(plan.files),
        compiled=plan.compiled,
    )
    if boot_out is not None:
        _after_restart(printer, before)


def _report(printer: Printer, path: Path, drive: Folder, plan: Plan) -> None:
    differences = compare(drive, plan)
    for each in differences:
        printer.answer(f"{each.what}: {each.name}", kind="file", name=each.name, what=each.what)
    if differences:
        raise Refused(f"{path}: {len(differences)} files are not as they should be; run: handtick install")
    printer.answer(f"{path}: as it should be", kind="installed", drive=str(path), files=len(plan.files))


def the_drive() -> Path:
    """The one drive there is."""
    drives = find_drives()
    if not drives:
        raise NoBoard(
            "no board's drive is mounted; plug the board in, or name its drive or a folder with --to. A board without "
            "CircuitPython needs that first: https://circuitpython.org/downloads"
        )
    if len(drives) > 1:
        names = ", ".join(map(str, drives))
        raise UsageError(f"there are {len(drives)} drives: {names}; say which with --to")
    return drives[0]


def _after_restart(printer: Printer, before: set[tuple[object, object] | None]) -> None:
    """Waits for the board to start again and says what it says."""
    printer.warn("now press the board's reset, or unplug it and plug it in again, so that it opens its data port")
    until = time.monotonic() + _RESTART_S
    while time.monotonic() < until:
        for each in ask_all():
            identity = _identity(each)
            if identity is not None and identity not in before:
                _say_heap(printer, each)
                return
        time.sleep(0.5)
    raise NoBoard(f"no board has started within {_RESTART_S:g} s; look with: handtick ports")


def _say_heap(printer: Printer, found: Found) -> None:
    assert found.greeting is not None
    heap: int | str = "not known"
    with contextlib.suppress(HandtickError), Bench(SerialLink(found.port)) as bench:
        heap = bench.status().fields["heap_free"]
    printer.answer(
        f"{found.port}: the board has started, boot {found.greeting.boot}, {heap} bytes of memory free",
        kind="started",
        port=found.port,
        boot=found.greeting.boot,
        heap_free=heap,
    )


def _identity(found: Found) -> tuple[object, object] | None:
    return None if found.greeting is None else (found.greeting.fields["uid"], found.greeting.boot)
