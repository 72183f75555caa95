"""handtick: clock a home-built processor tick by tick, log every tick, and find where it went wrong."""

from __future__ import annotations

from typing import TYPE_CHECKING

from handtick_wire.version import __version__

if TYPE_CHECKING:
    from handtick.bench import Bench
    from handtick.opening import open_bench

__all__ = ["Bench", "__version__", "open_bench"]


def __getattr__(name: str) -> object:
    """Imports the API when it is first asked for, so that a command that needs none of it starts quickly."""
    if name == "Bench":
        from handtick.bench import Bench

        return Bench
    if name == "open_bench":
        from handtick.opening import open_bench

        return open_bench
    raise AttributeError(f"module 'handtick' has no attribute {name!r}")
