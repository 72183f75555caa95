"""The words that open the door: made by chance, compared in constant time, and not to be found by trying."""

from __future__ import annotations

import secrets
from collections import deque

from handtick.errors import Refused

# Signs that are told apart when read aloud or off a projector: no i, l, o or u.
_SIGNS = "0123456789abcdefghjkmnpqrstvwxyz"
_BITS_A_SIGN = 5
#: Bits in the word that people type, and in what only the teacher's computer has.
ROOM_BITS = 40
SECRET_BITS = 130
#: Wrong words that one address may try in a minute.
TRIES_A_MINUTE = 10
_MINUTE_S = 60.0


def room_word() -> str:
    """A new room word of ``ROOM_BITS``, in two groups of four signs."""
    word = _signs(ROOM_BITS)
    return f"{word[:4]}-{word[4:]}"


def secret() -> str:
    """A new secret of ``SECRET_BITS``: the teacher's, or what brings one person back to their seat."""
    return _signs(SECRET_BITS)


def plain(word: str) -> str:
    """A word as it is compared: in small letters, without what people put between, and i, l and o as the digits they
    were read for."""
    kept = "".join(letter for letter in word.lower() if letter.isalnum())
    return kept.translate(str.maketrans("ilo", "110"))


def same(one: str, other: str) -> bool:
    """Whether two words are one, in a time that does not tell how much of them is."""
    return secrets.compare_digest(plain(one).encode(), plain(other).encode())


class Tries:
    """Counts the wrong words of each address: after ``TRIES_A_MINUTE`` within a minute nothing more is compared."""

    _MOST_ADDRESSES = 10_000

    def __init__(self) -> None:
        self._wrong: dict[str, deque[float]] = {}

    def compare(self, address: str, said: str, word: str, now_s: float) -> None:
        """Compares the word that somebody said from an address with the right one, and counts it where it is wrong.

        Raises:
            Refused: it is wrong, or nothing more is compared.
        """
        if not self.left(address, now_s):
            raise Refused("too many wrong words from this address; wait a minute")
        if not same(said, word):
            self.wrong(address, now_s)
            raise Refused("that is not the word of this room")

    def left(self, address: str, now_s: float) -> bool:
        """Whether an address may try another word at ``now_s``, in seconds of any clock that only goes on."""
        times = self._wrong.get(address)
        if times is None:
            return True
        while times and now_s - times[0] >= _MINUTE_S:
            times.popleft()
        if not times:
            del self._wrong[address]
        return len(times) < TRIES_A_MINUTE

    def wrong(self, address: str, now_s: float) -> None:
        """One wrong word came from an address."""
        if address not in self._wrong and len(self._wrong) >= self._MOST_ADDRESSES:
            self._wrong.pop(next(iter(self._wrong)))
        self._wrong.setdefault(address, deque()).append(now_s)


def _signs(bits: int) -> str:
    return "".join(secrets.choice(_SIGNS) for _ in range(bits // _BITS_A_SIGN))
