"""A pytest plug-in: fixtures with which builders keep regression tests of their own machine.

`bench` is the bench, its machine freshly reset; `--board` says which, the virtual one without it. Where a test fails,
the last ticks are shown as a table.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from handtick.bench import Bench
    from handtick.events import Event, Tick

_SHOWN = 12
_LAST_TICKS = pytest.StashKey["deque[Tick]"]()


def pytest_addoption(parser: pytest.Parser) -> None:
    """Says where the machine is."""
    group = parser.getgroup("handtick", "a machine on a bench")
    group.addoption("--board", default="virtual", metavar="PORT", help="the board, as handtick takes it")
    group.addoption("--wiring", default=None, metavar="FILE", help="the wiring file; without it, wiring.toml")


@pytest.fixture(scope="session")
def handtick_bench(request: pytest.FixtureRequest) -> Iterator[Bench]:
    """The bench, open for the whole session; nothing is logged."""
    from handtick.errors import HandtickError
    from handtick.opening import open_bench

    options = request.config.option
    ticks: deque[Tick] = deque(maxlen=_SHOWN)
    request.config.stash[_LAST_TICKS] = ticks

    def keep(event: Event) -> None:
        if event.__class__.__name__ == "Tick":
            ticks.append(event)  # type: ignore[arg-type]

    try:
        bench = open_bench(options.board, None, options.wiring, keep)
    except HandtickError as error:
        raise pytest.UsageError(str(error)) from error
    with bench:
        yield bench


@pytest.fixture
def bench(handtick_bench: Bench, request: pytest.FixtureRequest) -> Bench:
    """The bench with its machine freshly reset; the next tick is tick 1."""
    from handtick.repeat import Repeat

    request.config.stash[_LAST_TICKS].clear()
    Repeat(handtick_bench, _nobody).to_start()
    request.config.stash[_LAST_TICKS].clear()
    return handtick_bench


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item) -> Iterator[None]:
    """Shows the last ticks under a failure."""
    report: pytest.TestReport = yield  # type: ignore[assignment]
    ticks = item.config.stash.get(_LAST_TICKS, None)
    if report.when == "call" and report.failed and ticks and "handtick_bench" in getattr(item, "fixturenames", ()):
        from handtick.cli.table import TickTable

        table = TickTable(item.funcargs["handtick_bench"].wiring)  # type: ignore[attr-defined]
        report.sections.append(("the last ticks", "\n".join([table.heading(), *map(table.row, ticks)])))
    return report  # type: ignore[return-value]


def _nobody(question: str) -> None:
    raise pytest.UsageError(f"the wiring file's start needs a hand ({question}), and tests have none")
