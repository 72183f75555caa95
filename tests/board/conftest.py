"""The suites of the clock run on both engines: in software, on the simulated pins themselves and with Blinka's
``digitalio`` between; and on hardware that makes bursts, whose loop has looks between passes and a tick ready for the
next press."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator

import digitalio
import pytest

from handtick.virtual.board import VirtualBoard
from handtick_board.rim import Rim
from tests.board.blinka_pins import SimulatedPin, over_blinka

SOFTWARE = ["simulated pins", "over Blinka"]


@pytest.fixture(scope="module", params=[*SOFTWARE, "in bursts"])
def on_pins(request: pytest.FixtureRequest) -> Iterator[None]:
    """What the boards of a module's tests stand on."""
    with _standing_on(request.param):
        yield


@pytest.fixture(scope="module", params=SOFTWARE)
def in_software(request: pytest.FixtureRequest) -> Iterator[None]:
    """As ``on_pins``, for what the software engine does in a way of its own."""
    with _standing_on(request.param):
        yield


@pytest.fixture
def in_bursts() -> Iterator[None]:
    """As ``on_pins``, for what the engine that makes bursts does in a way of its own."""
    with _standing_on("in bursts"):
        yield


@contextlib.contextmanager
def _standing_on(pins: str) -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(VirtualBoard, "bursts", pins == "in bursts")
        if pins == "over Blinka":
            patch.setattr(digitalio, "Pin", SimulatedPin)
            patch.setattr(VirtualBoard, "rewired", staticmethod(over_blinka))
        if pins == "in bursts":
            patch.setattr(VirtualBoard, "rewired", staticmethod(_with_looks))
        yield


def _with_looks(rim: Rim) -> Rim:
    rim.looks = 16
    return rim
