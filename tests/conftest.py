"""What all tests share: Hypothesis settings, and skips that count as failures where nothing may be skipped."""

from __future__ import annotations

import os
from collections.abc import Generator

import pytest
from hypothesis import HealthCheck, settings

# Blinka then stands on its simulated pins, on any computer.
os.environ.setdefault("BLINKA_OS_AGNOSTIC", "1")

settings.register_profile("bench", deadline=None, print_blob=True, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("bench")


def pytest_configure(config: pytest.Config) -> None:
    """Says which marks there are."""
    config.addinivalue_line("markers", "fault(where, what, seen): a fault that is tried, and what the user sees of it")
    config.addinivalue_line("markers", "needs_image: needs a CircuitPython image that nobody can fetch; may be skipped")


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """With HANDTICK_NO_SKIPS=1 a skipped test has failed, except one that needs an image."""
    report = yield
    if report.skipped and os.environ.get("HANDTICK_NO_SKIPS") == "1" and not item.get_closest_marker("needs_image"):
        report.outcome = "failed"
        report.longrepr = f"{item.nodeid} was skipped, and nothing may be: {report.longrepr}"
    return report
