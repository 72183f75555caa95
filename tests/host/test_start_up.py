"""A command line makes no more commands than it names, and nobody notices."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from typer.main import get_command

from handtick.cli.app import app, only_named

ALL = set(get_command(app).commands)  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("words", "made"),
    [
        (["step", "3"], {"step"}),
        (["--log", "status", "step"], {"step", "status"}),
        (["log", "list"], {"log"}),
        (["timers", "astable"], {"timers"}),
        (["stpe"], ALL),
        ([], ALL),
        (["--help", "step"], ALL),
    ],
)
def test_commands_made_are_those_named_or_all(words: list[str], made: set[str]) -> None:
    """The command asked for is always among them; where none is asked for, and for help, all are."""
    assert set(get_command(only_named(words)).commands) == made  # type: ignore[attr-defined]
    assert set(get_command(app).commands) == ALL  # type: ignore[attr-defined]


@pytest.mark.parametrize("words", ["--version", "--board virtual status"])
def test_what_takes_long_to_load_is_not_loaded(words: str, tmp_path: Path) -> None:
    """Neither the version nor a status loads what only other commands need."""
    code = (
        f"import sys; sys.argv[1:] = {words.split()}\nfrom handtick.cli import main\ntry:\n    main()\n"
        "except SystemExit:\n    pass\n"
        "print([name for name in ('pydantic', 'rich', 'textual', 'lark', 'vcd', 'pyarrow') if name in sys.modules])"
    )
    env = {**os.environ, "HANDTICK_STATE": str(tmp_path / "state")}
    said = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=tmp_path, env=env
    )
    assert said.stdout.splitlines()[-1] == "[]"
