"""This computer's pins as a board, on pins that Blinka simulates."""

from __future__ import annotations

import itertools
import json
import os
import signal
import subprocess
import sys
from pathlib import Path

from handtick.bench import Bench
from handtick.links.serial_port import SerialLink

START = [sys.executable, "-c", "from handtick.cli import main; main()", "serve-pins"]
SETTINGS = """\
HANDTICK_PIN_CLOCK = "Dx_OUTPUT"
HANDTICK_PIN_TICK_BUTTON = "Dx_INPUT_TRUE"
HANDTICK_PIN_PROBES = "Dx_INPUT_TRUE_PULL_UP Dx_INPUT_FALSE"
HANDTICK_STEP_US = 500
"""


def env(folder: Path, **more: str) -> dict[str, str]:
    """The environment of a command."""
    return {**os.environ, "HANDTICK_STATE": str(folder / "state"), **more}


def test_pins_step_run_and_come_to_rest(tmp_path: Path) -> None:
    """Served on this computer's pins, the firmware steps, runs and counts as anywhere; ended, it rests the line."""
    (tmp_path / "settings.toml").write_text(SETTINGS, encoding="utf-8")
    server = subprocess.Popen(
        [*START, "--json"],
        cwd=tmp_path,
        env=env(tmp_path, BLINKA_OS_AGNOSTIC="1"),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert server.stdout is not None
    line = server.stdout.readline()
    assert line, server.stderr.read() if server.stderr else ""
    with Bench(SerialLink(json.loads(line)["port"])) as bench:
        assert bench.greeting is not None
        assert (bench.greeting.fields["engine"], bench.greeting.fields["probes"]) == ("software", 2)
        assert [tick.tick for tick in bench.step(3)] == [1, 2, 3]
        ticks = bench.burst(20, "200")
        assert bench.edges == 23
    assert all(later.time_us - earlier.time_us >= 5000 for earlier, later in itertools.pairwise(ticks))
    server.send_signal(signal.SIGINT)
    _, said = server.communicate(timeout=10)
    assert "the clock rests" in said
    assert server.returncode == 0


def refused(folder: Path, settings: str | None, **more: str) -> subprocess.CompletedProcess[str]:
    """What it says of settings it can't use."""
    if settings is not None:
        (folder / "settings.toml").write_text(settings, encoding="utf-8")
    return subprocess.run(
        START, cwd=folder, env=env(folder, **more), capture_output=True, text=True, timeout=60, check=False
    )


def test_settings_that_can_not_be_are_one_line(tmp_path: Path) -> None:
    """No file, no such pin, a value out of range: one line and a status, no traceback, no pin touched."""
    agnostic = {"BLINKA_OS_AGNOSTIC": "1"}
    cases = [
        (None, "no such file", agnostic),
        ('HANDTICK_PIN_CLOCK = "D99"\n', "D99", agnostic),
        ("", "no pin is given for the clock", agnostic),
        (SETTINGS + "HANDTICK_RING = 1\n", "HANDTICK_RING = 1: out of range", agnostic),
        ("HANDTICK_RING = [", "settings.toml", agnostic),
    ]
    for text, says, more in cases:
        told = refused(tmp_path, text, **more)
        assert (told.returncode, says in told.stderr, told.stderr.count("\n")) == (2, True, 1), told.stderr
