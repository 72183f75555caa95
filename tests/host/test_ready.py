"""Steps by the ready line as typed, and what the wiring file says of it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from handtick.cli import ready
from handtick.cli.common import Common
from handtick.errors import Refused, UsageError
from handtick.links.virtual import VirtualLink
from handtick.log import LogReader
from handtick.log.check import check
from handtick.opening import open_link
from handtick.virtual.board import VirtualBoard
from handtick.wiring import Wiring
from handtick.wiring.model import Clock
from tests.board.still_machine import StillMachine
from tests.board.waiting_machine import Waiting

WIRING = """
[bus.cycle]
probes = "0..14"
show = "decimal"

[line.write]
probe = 15
inverted = true

[clock]
may_stop = "no"
longest_high_us = 5
longest_low_us = 5
ready = "high"
ready_ignored = "write"
"""


class Desk:
    """A folder with a wiring file, and a board that lives from command to command."""

    def __init__(self, folder: Path, machine: StillMachine, patch: pytest.MonkeyPatch, wiring: str = WIRING) -> None:
        (folder / "wiring.toml").write_text(wiring, encoding="utf-8")
        self.board = VirtualBoard(machine)
        self.log = folder / "log.sqlite3"
        self._folder = folder
        patch.setattr("handtick.discovery.link_to", lambda board: VirtualLink(self.board))

    def step(self, count: str, rate: str | None = None, then_run: bool = False, as_json: bool = False) -> None:
        """Types it."""
        common = Common(None, self.log, self._folder / "wiring.toml", as_json)
        ready.step(common, count, True, False, rate, then_run)


def test_steps_go_on_from_command_to_command(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The first starts the clock with the machine held; between two the clock runs on; the log has each cycle."""
    machine = Waiting(lambda cycle: cycle in (3, 4), high=False)
    bench = Desk(tmp_path, machine, monkeypatch)
    bench.step("2", "200kHz")
    said = capsys.readouterr().out
    assert "cycle 1: cycle 0 > 1  write 0 > 0\ncycle 2: cycle 1 > 2  write 0 > 0\n" in said
    assert "the machine went 2 cycles; it is held" in said
    bench.board.run_until(bench.board.now_us + 20_000)
    assert machine.cycles == 2 < machine.edges
    bench.step("1", as_json=True)
    cycle, done = (json.loads(line) for line in capsys.readouterr().out.splitlines())
    assert (cycle["kind"], cycle["number"], cycle["passed"]) == ("cycle", 3, 2)
    assert cycle["buses"]["cycle"] == {"early": 2, "late": 5}
    assert (done["cycles"], done["passed"], done["held"]) == (1, 2, True)
    bench.step("1", then_run=True)
    assert "it runs on" in capsys.readouterr().out
    missed = machine.edges - machine.cycles
    bench.board.run_until(bench.board.now_us + 20_000)
    assert machine.edges - machine.cycles == missed
    with LogReader.open(bench.log) as reader:
        notes = [note.text for note in reader.notes()]
        assert len(notes) == 4
        assert notes[2].endswith("; not held: 2 more")


def test_rate_of_a_clock_that_runs_is_not_taken(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A new rate would make it rest for a moment."""
    bench = Desk(tmp_path, Waiting(high=False), monkeypatch)
    bench.step("1", "200kHz")
    with pytest.raises(UsageError, match="runs already"):
        bench.step("1", "100kHz")


def test_clock_at_rest_is_told_with_what_to_do(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without a rate there is nothing to step."""
    bench = Desk(tmp_path, Waiting(), monkeypatch)
    with pytest.raises(Refused, match="--rate"):
        bench.step("1")
    assert bench.board.board.clock.edges == 0


@pytest.mark.parametrize("rate", ["1kHz", "50kHz"])
def test_rate_with_too_long_phases_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, rate: str) -> None:
    """The machine would forget; no edge is made, and it is not left held."""
    bench = Desk(tmp_path, Waiting(), monkeypatch)
    with pytest.raises(Refused, match="longer than this machine can bear"):
        bench.step("1", rate)
    bench.board.run_until(bench.board.now_us + 1000)
    assert bench.board.board.clock.edges == 0
    assert bench.board.ready is not None
    assert bench.board.ready.pin.value


@pytest.mark.parametrize("rate", ["1000", "2600000"])
def test_rate_that_is_refused_leaves_all_as_it_was(tmp_path: Path, rate: str) -> None:
    """Too slow for the machine or too fast for the ready line: the clock rests, and the machine is ready."""
    board = VirtualBoard(Waiting())
    wiring = Wiring((), clock=Clock("no", 5, 5, "high"))
    with open_link(VirtualLink(board), tmp_path / "log.sqlite3", wiring) as bench:
        with pytest.raises(Refused):
            bench.step_by_ready(1, rate)
        assert bench.status().fields["mode"] == "rest"
        assert board.ready is not None
        assert board.ready.pin.value


def test_board_without_a_ready_line_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """With what it takes."""
    with pytest.raises(Refused, match="HANDTICK_SPARE"):
        Desk(tmp_path, StillMachine(), monkeypatch).step("1", "200kHz")


def test_wiring_file_that_says_nothing_of_it_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """With the key that is missing."""
    with pytest.raises(UsageError, match="`ready`"):
        Desk(tmp_path, Waiting(), monkeypatch, "[clock]\nmay_stop = 'no'\n").step("1", "200kHz")


def test_log_of_such_steps_adds_up(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Between two commands and after them, nothing in it is wrong."""
    bench = Desk(tmp_path, Waiting(high=False), monkeypatch)
    bench.step("2", "200kHz")
    bench.step("3")
    assert [finding.text for finding in check(bench.log) if finding.kind == "wrong"] == []
