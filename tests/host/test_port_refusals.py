"""Ports that are held by somebody, or not ours to open."""

from __future__ import annotations

import array
import contextlib
import fcntl
import os
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from handtick.errors import NoBoard, UsageError
from handtick.links import serial_port
from handtick.links.refusals import why_closed
from handtick.links.serial_port import SerialLink
from tests.host.served import served

#: Asks Linux whether a terminal is exclusive.
TIOCGEXCL = 0x80045440
HOLDING = """
import sys, time
from handtick.links.serial_port import SerialLink
link = SerialLink(sys.argv[1])
print("held", flush=True)
time.sleep(60)
"""


@pytest.mark.fault(
    "link",
    "a second program opens the port",
    "in use by which program, where the system tells; status 3",
)
def test_port_in_use_is_told_with_the_program_that_has_it() -> None:
    """A port that one program has open is not another's; the message names the program and its number."""
    with served() as serving:
        assert serving.port is not None
        with holding(serving.port) as program, pytest.raises(NoBoard) as caught:
            SerialLink(serving.port)
    assert re.search(r": in use by \S.* \(process \d+\); close that first$", str(caught.value))
    assert f"(process {program.pid})" in str(caught.value)


@pytest.mark.fault(
    "link",
    "a program that asks nobody opens a port in use",
    "nothing: the system keeps that program out",
)
def test_port_in_use_is_kept_for_its_program_by_the_system(monkeypatch: pytest.MonkeyPatch) -> None:
    """While a board's port is open, the system itself gives it to nobody else; closed, to anybody. (Tried on a
    pseudo-terminal that is taken for a USB port.)"""
    monkeypatch.setattr(serial_port, "_PSEUDO", re.compile("(?!)"))
    with served() as serving:
        assert serving.port is not None
        link = SerialLink(serving.port)
        watching = os.open(serving.port, os.O_RDWR | os.O_NOCTTY) if os.geteuid() == 0 else link._port.fileno()
        assert exclusive(watching)
        link.close()
        if os.geteuid() == 0:
            assert not exclusive(watching)
            os.close(watching)


@pytest.mark.fault(
    "link",
    "a program that has a served board open is killed",
    "nothing: the next program gets the board",
)
def test_killed_program_does_not_keep_a_served_board() -> None:
    """After a program was killed with the terminal of a served board open, the terminal is anybody's."""
    with served() as serving:
        assert serving.port is not None
        with holding(serving.port):
            pass
        descriptor = os.open(serving.port, os.O_RDWR | os.O_NOCTTY)
        assert not exclusive(descriptor)
        os.close(descriptor)


@pytest.mark.fault(
    "link",
    "a port that belongs to a group one is not in",
    "which group, and the command that joins it; status 3",
)
def test_port_of_another_group_is_told_with_the_group(tmp_path: Path) -> None:
    """Permission denied: the message has the group that may open the port, and how to join it; where no group may, or
    only the system's own, nobody is told to join it."""
    import grp

    port = tmp_path / "port"
    port.touch(0o600)
    if os.geteuid() == 0:
        os.chown(port, -1, next(group.gr_gid for group in grp.getgrall() if group.gr_gid))
    group = grp.getgrgid(port.stat().st_gid).gr_name
    denied = PermissionError(13, "Permission denied")
    assert "usermod" not in why_closed(str(port), denied)
    port.chmod(0o660)
    assert why_closed(str(port), denied) == (
        f"{port}: you may not open this port, the group {group} may; join that and log in again: "
        f"sudo usermod -aG {group} $USER"
    )


@pytest.mark.parametrize(
    ("address", "wrong"),
    [
        ("socket://localhost", "the port is missing"),
        ("socket://", "the port is missing"),
        ("socket://:5000", "the host is missing"),
        ("socket://localhost:x", "the port is no number from 0 to 65535, or the host is none"),
        ("socket://localhost:70000", "the port is no number from 0 to 65535, or the host is none"),
        ("socket://[::1:5000", "the port is no number from 0 to 65535, or the host is none"),
    ],
)
def test_address_that_is_not_whole_is_told_as_such(address: str, wrong: str) -> None:
    """What is wrong with it and how one is written, with the status for wrong usage."""
    with pytest.raises(UsageError) as caught:
        SerialLink(address)
    assert str(caught.value) == f"{address}: {wrong}; write socket://HOST:PORT"


@contextlib.contextmanager
def holding(port: str) -> Iterator[subprocess.Popen[str]]:
    """Another program that has a port open, until it is killed."""
    words = [sys.executable, "-c", HOLDING, port]
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as program:
        assert program.stdout is not None
        assert program.stdout.readline() == "held\n"
        try:
            yield program
        finally:
            program.send_signal(signal.SIGKILL)


def exclusive(descriptor: int) -> bool:
    """Whether the system gives a terminal to nobody else."""
    held = array.array("i", [0])
    fcntl.ioctl(descriptor, TIOCGEXCL, held)
    return held[0] == 1
