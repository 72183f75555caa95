"""What every command takes: which board, log and wiring file, and how to print."""

from argparse import Namespace
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from handtick.bench import Bench
    from handtick.cli.printer import Printer
    from handtick.log import LogReader
    from handtick.wiring import Wiring


class Common(NamedTuple):
    """The global options as given.

    Attributes:
        board: as ``open_bench`` takes it.
        log: the tick log; None for the usual one.
        wiring: the wiring file; None for the usual one, where there is one.
        json: whether to print an object a line instead of text.
        quiet: whether to print nothing but errors.
    """

    board: str | None = None
    log: Path | None = None
    wiring: Path | None = None
    json: bool = False
    quiet: bool = False

    @classmethod
    def of(cls, given: Namespace) -> "Common":
        """Those of a command line that has been read."""
        return cls(**{name: value for name, value in vars(given).items() if name in cls._fields})

    @property
    def log_path(self) -> Path:
        """The log to use."""
        from handtick.opening import DEFAULT_LOG

        return self.log if self.log is not None else Path(DEFAULT_LOG)

    def find_wiring(self) -> "Wiring":
        """The wiring to use."""
        from handtick.opening import find_wiring

        return find_wiring(self.wiring)

    def open_bench(self, printer: "Printer", wiring: "Wiring | None" = None) -> "Bench":
        """Opens the board, its log and its wiring, unless one is given; the printer is told of every event."""
        from handtick.discovery import link_to
        from handtick.opening import open_link

        printer.wiring = self.find_wiring() if wiring is None else wiring
        bench = open_link(link_to(self.board), self.log_path, printer.wiring, printer.take)
        printer.begin(bench)
        return bench

    def open_log(self) -> "LogReader":
        """Opens the log to look into it."""
        from handtick.log import LogReader

        return LogReader.open(self.log_path)
