"""The order of an installation: a marker first, then modules, then the programs by renaming, then the marker away.

Before the programs are renamed, an older program is on the drive: handtick's own looks for the marker, and another's
has lost nothing. After that the program is the new one, which looks for the marker too.
"""

from __future__ import annotations

import hashlib
import itertools
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from handtick.errors import HandtickError, Refused
from handtick.install.drive import DriveFiles
from handtick.install.plan import MARKER, OWN_FOLDERS, OWN_PROGRAMS, PROGRAMS, SETTINGS, Plan

MARKER_TEXT = b"handtick is being installed. If this file stays, the installation was cut off: run it again.\n"
#: How a program of somebody's own is called that was on the drive before: ``code_before_handtick.py``, and the next one
#: ``code_before_handtick_2.py``.
KEPT = "_before_handtick"


@dataclass(frozen=True, slots=True)
class Difference:
    """A file of the drive that is not as the plan has it: ``what`` is "missing", "other" or "surplus"."""

    name: str
    what: str


def compare(drive: DriveFiles, plan: Plan) -> list[Difference]:
    """How a drive differs from a complete installation; the settings may say anything."""
    found = []
    for name, data in plan.files.items():
        there = drive.read(name)
        if there != data:
            found.append(Difference(name, "missing" if there is None else "other"))
    found += [Difference(name, "surplus") for name in _surplus(drive, plan)]
    if drive.read(MARKER) is not None:
        found.append(Difference(MARKER, "surplus"))
    if drive.read(SETTINGS) is None:
        found.append(Difference(SETTINGS, "missing"))
    return found


def install(drive: DriveFiles, plan: Plan, tell: Callable[[str], None] = lambda text: None) -> None:
    """Brings a drive to the plan. Cut off anywhere, it can be started again, and the drive says that it must be.

    Args:
        drive: the drive.
        plan: what belongs on it.
        tell: told of each file written.

    Raises:
        Refused: there is no room.
        HandtickError: a file can't be written, or reads back otherwise than written.
    """
    wrong = [each.name for each in compare(drive, plan) if each.what != "surplus"]
    needed = sum(len(plan.files.get(name, plan.settings)) for name in wrong)
    needed += sum(len(_to_keep(drive, name)) for name in PROGRAMS if name in wrong)
    if needed > drive.free:
        raise Refused(f"the drive has {drive.free} bytes free and {needed} are needed; remove something from it")
    drive.write(MARKER, MARKER_TEXT)
    for name, data in plan.files.items():
        if name in wrong and name not in PROGRAMS:
            _write(drive, name, data)
            tell(name)
    if drive.read(SETTINGS) is None:
        _write(drive, SETTINGS, plan.settings)
        tell(SETTINGS)
    for name in PROGRAMS:
        if name in wrong:
            _keep(drive, name, tell)
            _write(drive, name + ".new", plan.files[name])
            drive.rename(name + ".new", name)
            tell(name)
    for name in _surplus(drive, plan):
        drive.remove(name)
    for name in PROGRAMS:
        drive.remove(name + ".new")
    left = [each for each in compare(drive, plan) if each.name != MARKER]
    if left:
        raise HandtickError(f"{left[0].name} is {left[0].what} after it was written; try again, or use another cable")
    drive.remove(MARKER)


def _write(drive: DriveFiles, name: str, data: bytes) -> None:
    drive.write(name, data)
    if drive.read(name) != data:
        raise HandtickError(f"{name} reads back otherwise than it was written; try again, or use another cable")


def _keep(drive: DriveFiles, name: str, tell: Callable[[str], None]) -> None:
    """A program that is somebody's own is kept beside, in the place of none that was kept before."""
    there = _to_keep(drive, name)
    if there:
        kept = next(kept for kept in _kept_names(name) if drive.read(kept) is None)
        _write(drive, kept + ".new", there)
        drive.rename(kept + ".new", kept)
        tell(kept)


def _to_keep(drive: DriveFiles, name: str) -> bytes:
    """A program that is somebody's own and not kept yet; empty where there is none."""
    there = drive.read(name) or b""
    if hashlib.sha256(there).hexdigest() in OWN_PROGRAMS:
        return b""
    kept = itertools.takewhile(lambda data: data is not None, map(drive.read, _kept_names(name)))
    return b"" if there in kept else there


def _kept_names(name: str) -> Iterator[str]:
    """Names for programs that are kept, however many."""
    stem = name.removesuffix(".py") + KEPT
    return itertools.chain([f"{stem}.py"], (f"{stem}_{number}.py" for number in itertools.count(2)))


def _surplus(drive: DriveFiles, plan: Plan) -> list[str]:
    """Files in handtick's own folders, and other forms of its libraries, that the plan does not have."""
    names = [name for folder in OWN_FOLDERS for name in drive.names(folder)]
    stems = {name.rpartition(".")[0] for name in plan.files if name.startswith("lib/") and name.count("/") == 1}
    names += [name for name in drive.names("lib") if name.rpartition(".")[0] in stems]
    return [name for name in names if name not in plan.files]
