"""The command line at hardware speed: a million ticks and more against a served virtual board, exact to the tick."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from handtick.cli import carry_out
from handtick.log import LogReader
from handtick.virtual.burst_line import BurstLine
from handtick.virtual.larch_board import larch_board
from handtick.virtual.rain_tally import LONG_TALLY
from tests.host.served import served


def typed(capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, object]:
    """Types a command; returns its answer."""
    assert carry_out([*words]) == 0
    answer: dict[str, object] = json.loads(capsys.readouterr().out.splitlines()[-1])
    return answer


def test_million_ticks_at_a_megahertz_and_ten_million_in_a_second(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """`run 1MHz --for 1000000` makes exactly those, and `to 10000000` rests at exactly that tick. The time they say
    they took is that between the recorded edges; the log accounts for every tick."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("HANDTICK_STATE", str(tmp_path / "state"))
    board = larch_board(LONG_TALLY)
    with served(board) as serving:
        at = ["--json", "--board", str(serving.address)]
        run = typed(capsys, *at, "run", "1MHz", "--for", "1000000")
        to = typed(capsys, *at, "to", "10000000")
    assert isinstance(board.line, BurstLine)
    assert (run["tick"], run["edges"]) == (1_000_000, 1_000_000)
    assert (to["tick"], to["edges"]) == (10_000_000, 10_000_000)
    spans = board.line.spans_us()
    assert sum(ticks for _, _, ticks in spans) == 10_000_000
    for answer, (first, last) in ((run, (spans[0], spans[1])), (to, (spans[2], spans[-1]))):
        period_us = 1e6 / float(str(answer["given_hz"]))
        between_us = last[1] + period_us - first[0]
        # Told in whole microseconds of board time, when the loop sees that the burst is over.
        assert float(str(answer["seconds"])) * 1e6 == pytest.approx(between_us, abs=3)
    assert run["given_hz"] == 1e6
    assert to["given_hz"] == pytest.approx(125e6 / 13, rel=1e-6)
    with LogReader.open("handtick.sqlite3") as log:
        numbers = [tick.tick for tick in log.all_ticks()]
        gaps = [(gap.first_tick, gap.last_tick) for gap in log.gaps()]
    assert numbers == [*range(998_977, 1_000_001), *range(9_998_977, 10_000_001)]
    assert gaps == [(1, 998_976), (1_000_001, 9_998_976)]
