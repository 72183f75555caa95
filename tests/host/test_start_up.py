"""A command line makes and loads no more than it needs, and nobody notices."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from handtick.cli.app import make_parser
from handtick.command_page import parsers

HEAVY = (
    "argcomplete csv dataclasses decimal difflib hashlib importlib.resources inspect lark pyarrow rich shutil textual "
    "tomllib vcd zipfile"
)
COMMANDS = [parser.prog.split()[1:] for parser in parsers()]


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: " ".join(command) or "handtick")
def test_command_made_alone_has_the_help_it_has_among_all(
    command: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """Whether the other commands are made or not, the one that is asked for takes what its page says."""
    shown = []
    for parser in (make_parser(command), make_parser()):
        with pytest.raises(SystemExit, match="0"):
            parser.parse_args([*command, "--help"])
        shown.append(capsys.readouterr().out)
    assert shown[0] == shown[1]


@pytest.mark.parametrize(
    ("words", "made"),
    [(["step", "3"], ["", "step"]), (["log", "list", "--json"], ["", "log", "log list"]), (["stpe"], [""]), ([], [""])],
)
def test_no_other_command_is_made(words: list[str], made: list[str]) -> None:
    """Only those named on the line, and words that have commands after them."""
    assert [" ".join(parser.prog.split()[1:]) for parser in parsers(words)] == made


@pytest.mark.parametrize("words", ["--version", "--board virtual status"])
def test_what_takes_long_to_load_is_not_loaded(words: str, tmp_path: Path) -> None:
    """Neither the version nor a status loads what only other commands need, nor what makes records slowly."""
    code = (
        f"import sys; sys.argv[1:] = {words.split()}\nfrom handtick.cli import main\ntry:\n    main()\n"
        "except SystemExit:\n    pass\n"
        f"print([name for name in {HEAVY!r}.split() if name in sys.modules])"
    )
    env = {**os.environ, "HANDTICK_STATE": str(tmp_path / "state")}
    said = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=tmp_path, env=env
    )
    assert said.stdout.splitlines()[-1] == "[]"


def test_no_protocol_is_checked_while_a_command_runs() -> None:
    """From Python 3.12 on, one check of an object against a protocol loads ``inspect``."""
    code = (
        "import typing\ndef told(cls):\n    print(cls.__name__)\n    return cls\ntyping.runtime_checkable = told\n"
        "import handtick.virtual.larch_board\nfrom handtick.cli import main"
    )
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert said.stdout.split() == []
