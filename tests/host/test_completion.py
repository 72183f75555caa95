"""A shell completes what is typed."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

START = [sys.executable, "-c", "from handtick.cli import main; main()"]


def completed(line: str, folder: Path) -> list[str]:
    """What a shell is answered that asks what could be at the end of a line."""
    answer = folder / "answer"
    env = {
        **os.environ,
        "_ARGCOMPLETE": "1",
        "_ARGCOMPLETE_IFS": "\n",
        "_ARGCOMPLETE_STDOUT_FILENAME": str(answer),
        "COMP_LINE": line,
        "COMP_POINT": str(len(line)),
    }
    subprocess.run(START, env=env, cwd=folder, check=True)
    return [word.strip() for word in answer.read_text().splitlines()]


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("handtick st", {"status", "step", "steady"}),
        ("handtick --board virtual st", {"status", "step", "steady"}),
        ("handtick log --json e", {"export"}),
        ("handtick step 3 --h", {"--half", "--help"}),
        ("handtick halt --wir", {"--wiring"}),
    ],
)
def test_commands_and_options_are_completed(line: str, words: set[str], tmp_path: Path) -> None:
    """Commands, the commands after a word, their options, and the options of every command."""
    assert set(completed(line, tmp_path)) == words


def test_completion_is_installed_once(tmp_path: Path) -> None:
    """The shell's own file keeps what it had, and gets one line, however often it is installed."""
    env = {**os.environ, "HOME": str(tmp_path), "SHELL": "/bin/bash"}
    file = tmp_path / ".bashrc"
    file.write_text("alias l=ls\n")
    for _ in range(2):
        subprocess.run([*START, "--install-completion"], env=env, check=True, stdout=subprocess.DEVNULL)
    assert file.read_text() == 'alias l=ls\n\neval "$(handtick --show-completion bash)"\n'


def test_completion_is_shown_for_a_shell_that_is_named(tmp_path: Path) -> None:
    """What is shown is what bash, zsh or fish has to run; another shell is told which ones are known."""
    for shell, words in (("bash", "complete "), ("zsh", "compdef "), ("fish", "complete ")):
        shown = subprocess.run([*START, "--show-completion", shell], capture_output=True, text=True, check=True)
        assert words in shown.stdout
        assert "handtick" in shown.stdout
    refused = subprocess.run([*START, "--show-completion", "sh"], capture_output=True, text=True, check=False)
    assert refused.returncode == 2
    assert "name one of bash, zsh, fish" in refused.stderr
