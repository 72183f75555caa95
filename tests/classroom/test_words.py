"""The words at the door: made by chance, read as people read them, not to be found by trying."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handtick.classroom.door import host_is_ours, origin_is_ours
from handtick.classroom.meter import A_SECOND, AT_ONCE, Meter
from handtick.classroom.words import ROOM_BITS, SECRET_BITS, TRIES_A_MINUTE, Tries, plain, room_word, same, secret


def test_a_room_word_has_forty_bits_and_is_new_each_time() -> None:
    """Eight signs out of thirty-two; a thousand words are a thousand."""
    words = {room_word() for _ in range(1000)}
    assert len(words) == 1000
    assert all(len(plain(word)) * 5 == ROOM_BITS for word in words)
    assert len({sign for word in words for sign in plain(word)}) == 32


def test_a_secret_has_more_bits_than_anybody_tries() -> None:
    """Twenty-six signs."""
    assert len(secret()) * 5 == SECRET_BITS
    assert secret() != secret()


@pytest.mark.parametrize("typed", ["k1m0-9xqd", "K1M09XQD", " kim0 9xqd ", "klmo.9xqd", "k1mO-9XQD"])
def test_a_word_is_read_as_people_write_it(typed: str) -> None:
    """Case, spaces, hyphens, and letters that look like digits."""
    assert same(typed, "k1m0-9xqd")


@pytest.mark.parametrize("typed", ["", "k1m0-9xq", "k1m0-9xqdd", "k1m0-9xqe", "κ1m0-9xqd"])
def test_another_word_is_another(typed: str) -> None:
    """One sign less, more or other."""
    assert not same(typed, "k1m0-9xqd")


@given(st.lists(st.floats(0, 20), max_size=80))
def test_no_address_tries_more_than_ten_words_in_any_minute(pauses: list[float]) -> None:
    """Whatever the pauses between them."""
    tries, now_s, tried = Tries(), 0.0, []
    for pause in pauses:
        now_s += pause
        if tries.left("there", now_s):
            tries.wrong("there", now_s)
            tried.append(now_s)
        assert sum(1 for time_s in tried if now_s - time_s < 60) <= TRIES_A_MINUTE
    assert tries.left("elsewhere", now_s)


def test_after_a_minute_an_address_may_try_again() -> None:
    """Who mistyped is not kept out."""
    tries = Tries()
    for _ in range(TRIES_A_MINUTE):
        tries.wrong("there", 0.0)
    assert not tries.left("there", 59.9)
    assert tries.left("there", 60.0)


def test_addresses_without_end_take_no_memory_without_end() -> None:
    """The oldest are forgotten."""
    tries = Tries()
    for number in range(30_000):
        tries.wrong(str(number), 0.0)
    assert len(tries._wrong) <= 10_000


@given(st.lists(st.floats(0, 1), min_size=1, max_size=400))
def test_nobody_sends_more_than_their_allowance(pauses: list[float]) -> None:
    """So many at once, and so many a second after that; whoever keeps below is never held up."""
    meter, now_s, passed = Meter(0.0), 0.0, 0
    for pause in pauses:
        now_s += pause
        passed += meter.take(now_s)
        assert passed <= AT_ONCE + A_SECOND * now_s + 1e-6
    slow = Meter(0.0)
    assert all(slow.take(place / A_SECOND) for place in range(200))


@pytest.mark.parametrize(
    "host", ["localhost:8470", "LOCALHOST", "127.0.0.1:1", "192.168.1.20:8470", "[::1]:8470", "lab:80"]
)
def test_this_machine_is_found_under_its_names_and_any_address(host: str) -> None:
    """An address in figures can't be made to point elsewhere."""
    assert host_is_ours(host, {"localhost", "lab"})


@pytest.mark.parametrize(
    "host", ["", "elsewhere.example", "localhost.elsewhere.example:8470", "127.0.0.1.example", "lab2"]
)
def test_another_name_for_this_machine_is_refused(host: str) -> None:
    """Whoever made a name point here did not do it for us."""
    assert not host_is_ours(host, {"localhost", "lab"})


@pytest.mark.parametrize(
    ("origin", "ours"),
    [
        ("http://lab:8470", True),
        ("HTTP://LAB:8470", True),
        ("https://lab:8470", True),
        (None, False),
        ("null", False),
        ("http://lab", False),
        ("http://lab:8471", False),
        ("http://elsewhere.example", False),
        ("http://lab:8470.elsewhere.example", False),
    ],
)
def test_only_our_own_page_may_talk_to_the_room(origin: str | None, ours: bool) -> None:
    """The page's own address is the one it asks."""
    assert origin_is_ours(origin, "lab:8470") is ours
