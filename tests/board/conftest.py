"""The suites of the clock run twice: on the simulated pins themselves, and with Blinka's ``digitalio`` between."""

from __future__ import annotations

from collections.abc import Iterator

import digitalio
import pytest

from handtick.virtual.board import VirtualBoard
from tests.board.blinka_pins import SimulatedPin, over_blinka


@pytest.fixture(scope="module", params=["simulated pins", "over Blinka"])
def on_pins(request: pytest.FixtureRequest) -> Iterator[None]:
    """What the boards of a module's tests stand on."""
    with pytest.MonkeyPatch.context() as patch:
        if request.param == "over Blinka":
            patch.setattr(digitalio, "Pin", SimulatedPin)
            patch.setattr(VirtualBoard, "rewired", staticmethod(over_blinka))
        yield
