"""Lines on the wire: a start byte, what is said, a check value; found again after any cut, tear or junk.

The board says      ``#<running number> <report> <check>\\n``
A program says      ``@<id> <command> <check>\\n``

The running number is four hexadecimal digits and goes up by one a line, past FFFF to 0000, so that the host knows how
many lines it did not get. The id is a decimal number that only goes up within one greeting. The check is the CRC-32 of
IEEE 802.3 (as in ``binascii.crc32``) over everything between the start byte and the space before the check, in eight
hexadecimal digits. Nothing said contains a start byte or a line end, so a torn line can only be refused, never be taken
for another one.
"""

from __future__ import annotations

from binascii import crc32

REPORT_START = b"#"
COMMAND_START = b"@"
LONGEST_LINE = 480

# With the space before it.
_CHECK_LENGTH = 9


def frame_report(number: int, text: bytes) -> bytes:
    """One line from the board.

    Args:
        number: running number, 0 to 65535.
        text: the report, ASCII, without start bytes and line ends.
    """
    return framed(b"%04X " % number + text)


def framed(body: bytes) -> bytes:
    """One line from the board, of its number in four digits, a space and the report."""
    # At once: every tick passes here, and what is put together piece by piece leaves more behind to be tidied.
    return b"#%s %08X\n" % (body, crc32(body))


def check(data: bytes) -> int:
    """The check over bytes that no line carries: the CRC-32 of IEEE 802.3."""
    return crc32(data)


def frame_command(command_id: int, text: bytes) -> bytes:
    """One line from a program; ``command_id`` is 1 or more."""
    body = b"%d %s" % (command_id, text)
    return b"@%s %08X\n" % (body, crc32(body))


def open_frame(line: bytes) -> tuple[bytes, bytes] | None:
    """Takes a line (start byte first, no line end) apart.

    Returns:
        The number or id and the text, both as bytes; None where the check does not fit or a part is missing.
    """
    body = line[1:-_CHECK_LENGTH]
    if line[-_CHECK_LENGTH:] != b" %08X" % crc32(body):
        return None
    split = body.find(b" ")
    if split < 1 or split == len(body) - 1:
        return None
    return body[:split], body[split + 1 :]


class LineFinder:
    """Cuts a stream into lines, whatever pieces it arrives in, in bounded memory.

    A piece that begins with the start byte is a candidate for ``open_frame``; any other is junk or, on the board in
    typing mode, something a person typed. A start byte always begins a new piece, so a torn line costs itself alone.
    """

    def __init__(self, start: bytes) -> None:
        self._start = start
        self._held = b""
        self._skipping = False

    def feed(self, data: bytes) -> list[bytes]:
        """Takes what arrived; returns the pieces that are complete, without line ends, none of them empty."""
        pieces: list[bytes] = []
        lines = (self._held + data).replace(b"\r", b"\n").split(b"\n")
        self._held = lines.pop()
        for line in lines:
            if self._skipping:
                # The end of a line too long to keep: it was handed over as junk, and so is this.
                self._skipping = False
                line = self._after_start(line, pieces)
            self._split(line, pieces)
        if self._skipping:
            self._held = self._after_start(self._held, pieces)
            self._skipping = not self._held
        if len(self._held) > LONGEST_LINE:
            pieces.append(self._held)
            self._held = b""
            self._skipping = True
        return pieces

    def held(self) -> bytes:
        """What has arrived of a line that is not complete yet."""
        return self._held

    def drop(self) -> bytes:
        """Forgets the incomplete line and returns it."""
        held, self._held, self._skipping = self._held, b"", False
        return held

    def _after_start(self, line: bytes, pieces: list[bytes]) -> bytes:
        """Of a line whose beginning was too long, what follows the next start byte; the rest is junk."""
        at = line.find(self._start)
        junk = line if at < 0 else line[:at]
        if junk:
            # Never as a line of its own: the tail of an overlong line must not read as something typed.
            pieces.append(b"\x00" + junk)
        return b"" if at < 0 else line[at:]

    def _split(self, line: bytes, pieces: list[bytes]) -> None:
        if line.rfind(self._start) <= 0:
            # Nearly every line: the start byte is the one that it begins with, or there is none.
            if line:
                pieces.append(line)
            return
        parts = line.split(self._start)
        if parts[0]:
            pieces.append(parts[0])
        for part in parts[1:]:
            pieces.append(self._start + part)
