"""Blocks: the samples of many ticks behind one line, as they lie in the board's memory.

A block is the line of a ``block`` report, then four bytes a tick (early sample, late sample, lower byte first), then a
line end. The report's ``check`` is that of those bytes. They may hold any byte: the reader counts them. Where the check
does not fit, the bytes are looked through for lines again, so a torn block costs what it held and nothing after it.
"""

from __future__ import annotations

from . import framing, messages

TICK_BYTES = 4
_WORD = b" block "


class ReportReader:
    """Cuts what the board says into lines and blocks, whatever pieces it arrives in, in bounded memory.

    A line is handed over as ``LineFinder`` does. A block is handed over as four: its line, the line's running number
    and the fields of its report, which had to be read to know that it is one, and its bytes.
    """

    def __init__(self) -> None:
        self._lines = framing.LineFinder(framing.REPORT_START)
        # The block whose bytes are on their way: its line, as it came and as it was read, and how many bytes.
        self._line = b""
        self._number = b""
        self._fields: dict[str, int | str] = {}
        self._length = 0
        self._payload = bytearray()

    def feed(self, data: bytes) -> list[bytes | tuple[bytes, bytes, dict[str, int | str], bytes]]:
        """Takes what arrived; returns what is complete, in order."""
        pieces: list[bytes | tuple[bytes, bytes, dict[str, int | str], bytes]] = []
        while data:
            data = self._take_payload(data, pieces) if self._line else self._take_lines(data, pieces)
        return pieces

    def drop(self) -> bytes:
        """Forgets what is incomplete and returns it."""
        held = self._line + bytes(self._payload) if self._line else self._lines.drop()
        self._line = b""
        self._payload.clear()
        return held

    def _take_lines(self, data: bytes, pieces: list[bytes | tuple[bytes, bytes, dict[str, int | str], bytes]]) -> bytes:
        """Takes lines up to a block's, if there is one; returns what comes after that."""
        if _WORD not in self._lines.held() + data:
            pieces += self._lines.feed(data)
            return b""
        at = 0
        while at < len(data):
            end = data.find(b"\n", at) + 1 or len(data)
            new = self._lines.feed(data[at:end])
            pieces += new
            at = end
            if new and self._begins(new[-1]):
                pieces.pop()
                break
        return data[at:]

    def _begins(self, piece: bytes) -> bool:
        """Whether a line is a block's; notes what is to come."""
        opened = framing.open_frame(piece) if _WORD in piece else None
        report = messages.read_report(opened[1]) if opened is not None else None
        if opened is None or report is None or report[0] != "block":
            return False
        count = int(report[1]["count"])
        if not 0 < count <= messages.MOST_BLOCK:
            return False
        self._line = piece
        self._number, self._fields = opened[0], report[1]
        self._length = TICK_BYTES * count
        return True

    def _take_payload(
        self, data: bytes, pieces: list[bytes | tuple[bytes, bytes, dict[str, int | str], bytes]]
    ) -> bytes:
        wanted = self._length + 1 - len(self._payload)
        self._payload += data[:wanted]
        if len(self._payload) <= self._length:
            return b""
        line, taken = self._line, bytes(self._payload)
        self._line = b""
        self._payload.clear()
        samples = taken[:-1]
        if taken.endswith(b"\n") and framing.check(samples) == self._fields["check"]:
            pieces.append((line, self._number, self._fields, samples))
            return data[wanted:]
        # Torn: lines that came after it may be among what was taken for it. A line end keeps its rest apart from them.
        pieces.append(line)
        return taken + data[wanted:]
