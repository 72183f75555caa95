"""handtick: clock a home-built processor tick by tick, log every tick, and find where it went wrong."""

from handtick_wire.version import __version__

__all__ = ["__version__"]
