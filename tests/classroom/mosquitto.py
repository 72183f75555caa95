"""A broker for tests: mosquitto on a free loopback port, with a folder and a configuration of its own."""

from __future__ import annotations

import getpass
import os
import shutil
import socket
import subprocess
import time
from pathlib import Path
from typing import Self

import pytest

from handtick.classroom.broker_address import BrokerAddress

PATIENCE_S = 15.0
# Debian puts it where only administrators look.
FOUND = shutil.which("mosquitto", path=os.pathsep.join([os.environ.get("PATH", ""), "/usr/sbin"]))


class Mosquitto:
    """One broker, from ``with`` to its end.

    Args:
        folder: for its configuration and what it keeps.
        lines: its configuration, but for the port; without any, everybody may do everything.
        tls: whether the listener is under TLS, with certificates from ``lines``.
    """

    def __init__(self, folder: Path, lines: list[str] | None = None, tls: bool = False) -> None:
        if FOUND is None:
            pytest.skip("mosquitto is not installed; on Debian: apt install mosquitto")
        self.port = _free_port()
        self._config = folder / "mosquitto.conf"
        common = [
            f"listener {self.port} 127.0.0.1",
            # What it is told to keep outlives a restart.
            "persistence true",
            f"persistence_location {folder}/",
            # Started by root, it would become somebody who may not read its folder.
            f"user {getpass.getuser()}",
        ]
        text = "\n".join([*common, *(lines if lines is not None else ["allow_anonymous true"])])
        self._config.write_text(text + "\n", encoding="utf-8")
        self._tls = tls
        self.process: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()

    def address(self, user: str | None = None, password: str | None = None) -> BrokerAddress:
        """Where it is."""
        return BrokerAddress("127.0.0.1", self.port, self._tls, "school/larch", user, password)

    def start(self) -> None:
        """Starts it, and waits until it listens."""
        assert FOUND is not None
        self.process = subprocess.Popen(
            [FOUND, "-c", str(self._config)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        until = time.monotonic() + PATIENCE_S
        while True:
            assert self.process.poll() is None, "mosquitto did not take its configuration"
            try:
                socket.create_connection(("127.0.0.1", self.port), timeout=1).close()
            except OSError:
                assert time.monotonic() < until, "mosquitto does not listen"
                time.sleep(0.02)
            else:
                return

    def stop(self) -> None:
        """Stops it; a second stop is none."""
        if self.process is not None:
            self.process.terminate()
            self.process.wait(PATIENCE_S)
            self.process = None


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])
