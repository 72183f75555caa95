"""Cuts the stream of what a board says: lines, and blocks of samples as they lie in the board's memory.

A block is the line of a ``block`` report, then four bytes a tick (early sample, late sample, lower byte first), then a
line end. The report's ``check`` is that of those bytes. They may hold any byte: the reader counts them. Where the check
does not fit, the bytes are looked through for lines again, so a torn block costs what it held and nothing after it.
"""

from __future__ import annotations

from handtick.wire_reports import Values, open_report
from handtick_wire import framing, messages

TICK_BYTES = 4
_WORD = b" block "

#: A block of which nothing is missing: its line's running number, the values of its report, and its bytes.
WholeBlock = tuple[int, Values, bytes]


class ReportReader:
    """Cuts what the board says into lines and blocks, whatever pieces it arrives in, in bounded memory.

    A line is handed over as ``LineFinder`` does, and so is that of a block whose bytes are not as they were sent.
    """

    def __init__(self) -> None:
        self._lines = framing.LineFinder(framing.REPORT_START)
        # The block whose bytes are on their way: its line, what that says, how many bytes there are, and their check.
        self._line = b""
        self._number = 0
        self._values: Values = ()
        self._length = 0
        self._check = 0
        self._payload = bytearray()

    def feed(self, data: bytes) -> list[bytes | WholeBlock]:
        """Takes what arrived; returns what is complete, in order."""
        pieces: list[bytes | WholeBlock] = []
        while data:
            data = self._take_payload(data, pieces) if self._line else self._take_lines(data, pieces)
        return pieces

    def drop(self) -> bytes:
        """Forgets what is incomplete and returns it."""
        held = self._line + bytes(self._payload) if self._line else self._lines.drop()
        self._line = b""
        self._payload.clear()
        return held

    def _take_lines(self, data: bytes, pieces: list[bytes | WholeBlock]) -> bytes:
        """Takes lines up to a block's, if there is one; returns what comes after that."""
        if _WORD not in self._lines.held() + data:
            pieces += self._lines.feed(data)
            return b""
        at = 0
        while at < len(data):
            end = data.find(b"\n", at) + 1 or len(data)
            new = self._lines.feed(data[at:end])
            at = end
            if new and self._begins(new[-1]):
                pieces += new[:-1]
                break
            pieces += new
        return data[at:]

    def _begins(self, piece: bytes) -> bool:
        """Whether a line is a block's; notes what is to come."""
        report = open_report(piece) if _WORD in piece else None
        if report is None or report[1] != "block":
            return False
        number, _, values = report
        _, _, count, *_, check = values
        if count > messages.MOST_BLOCK:
            return False
        self._line, self._number, self._values = piece, number, values
        # A line end follows.
        self._length, self._check = TICK_BYTES * count + 1, check
        return True

    def _take_payload(self, data: bytes, pieces: list[bytes | WholeBlock]) -> bytes:
        wanted = self._length - len(self._payload)
        self._payload += data[:wanted]
        if len(data) < wanted:
            return b""
        line, taken = self._line, bytes(self._payload)
        self._line = b""
        self._payload.clear()
        samples = taken[:-1]
        if taken.endswith(b"\n") and framing.check(samples) == self._check:
            pieces.append((self._number, self._values, samples))
            return data[wanted:]
        # Torn: lines that came after it may be among what was taken for it. A line end keeps its rest apart from them.
        pieces.append(line)
        return taken + data[wanted:]
