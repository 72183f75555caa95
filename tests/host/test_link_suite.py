"""What every link can do, whatever is at its other end: one suite for all of them."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator

import pytest

from handtick.errors import LinkLost
from tests.host.link_ends import Ends, ends_of

KINDS = ("memory", "pseudo-terminal", "TCP", "recording")
#: Links whose other end can go away.
MORTAL = KINDS[1:]
#: Links that wait as long as a clock on the wall says; time in memory is virtual.
PACED = ("pseudo-terminal", "TCP")
PATIENCE_S = 10.0


@pytest.fixture
def ends(request: pytest.FixtureRequest) -> Iterator[Ends]:
    """Both ends of a link."""
    with ends_of(request.param) as both:
        yield both


def every(*kinds: str) -> pytest.MarkDecorator:
    """Runs a test on these kinds of link."""
    return pytest.mark.parametrize("ends", kinds, indirect=True)


def read_all(ends: Ends, count: int) -> bytes:
    """Reads until so many bytes have come."""
    data, until = b"", time.monotonic() + PATIENCE_S
    while len(data) < count and time.monotonic() < until:
        data += ends.link.read(0.1)
    return data


def listen_two_seconds(ends: Ends) -> None:
    """Reads until two seconds have been listened, however long this program is kept waiting in between."""
    for _ in range(8):
        ends.link.read(0.25)


def again_and_again(deed: Callable[[], object]) -> None:
    """Does it until it fails, with patience."""
    until = time.monotonic() + PATIENCE_S
    while time.monotonic() < until:
        deed()


@every(*KINDS)
def test_bytes_arrive_as_they_were_sent(ends: Ends) -> None:
    """Every byte there is arrives both ways, once, in order, unchanged."""
    data = bytes(range(256)) * 8
    ends.far.say(data)
    assert read_all(ends, len(data)) == data
    ends.link.write(data)
    assert ends.far.heard(len(data)) == data


@every(*KINDS)
def test_silence_is_an_empty_read_and_no_loss(ends: Ends) -> None:
    """Nothing there within the time given: empty, again and again, and then what comes is read."""
    assert [ends.link.read(0.01) for _ in range(3)] == [b""] * 3
    ends.far.say(b"x")
    assert read_all(ends, 1) == b"x"


@every(*PACED)
def test_read_returns_with_the_first_byte_and_keeps_its_deadline_on_a_trickle(ends: Ends) -> None:
    """A byte every now and then never makes a read longer than it was to be."""
    ended = threading.Event()

    def trickle() -> None:
        while not ended.wait(0.02):
            ends.far.say(b".")

    worker = threading.Thread(target=trickle)
    worker.start()
    began = time.monotonic()
    reads = [ends.link.read(0.5) for _ in range(10)]
    spent_s = time.monotonic() - began
    ended.set()
    worker.join()
    assert all(reads)
    assert spent_s < 0.5 * 10 / 2


@every(*KINDS)
def test_flood_is_read_in_chunks(ends: Ends) -> None:
    """Half a million bytes arrive whole, and no read gives more than a bounded piece of them."""
    size = 500_000
    flood = bytes(number % 251 for number in range(size))
    worker = threading.Thread(target=ends.far.say, args=(flood,))
    worker.start()
    pieces = [ends.link.read(1.0)]
    while sum(map(len, pieces)) < size:
        pieces.append(ends.link.read(1.0))
        assert pieces[-1]
    worker.join()
    assert b"".join(pieces) == flood
    assert len(pieces) < size // 10


@pytest.mark.fault("link", "the other end goes while a program listens", "that the board is gone, within two seconds")
@every(*MORTAL)
def test_other_end_that_goes_is_a_link_lost(ends: Ends) -> None:
    """Whoever listens hears of it within two seconds, in one line with the port's name; what came first is read."""
    ends.far.say(b"last words")
    assert read_all(ends, 10) == b"last words"
    ends.far.go()
    with pytest.raises(LinkLost) as caught:
        listen_two_seconds(ends)
    assert ends.link.name in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.fault("link", "the other end goes while a program sends", "that the board is gone, within two seconds")
@every(*MORTAL)
def test_other_end_that_goes_is_noticed_by_whoever_sends(ends: Ends) -> None:
    """Whoever only sends hears of it too."""
    ends.far.go()
    with pytest.raises(LinkLost):
        again_and_again(lambda: ends.link.write(b"x" * 100))


@every(*KINDS)
def test_closed_twice_is_closed_once(ends: Ends) -> None:
    """Closing again does nothing."""
    ends.link.close()
    ends.link.close()


@every(*KINDS)
def test_closed_link_says_that_it_is_closed(ends: Ends) -> None:
    """Reading and writing after closing is a link lost, and no slip of the program's."""
    ends.link.close()
    with pytest.raises(LinkLost):
        ends.link.read(0.01)
    with pytest.raises(LinkLost):
        ends.link.write(b"x")


@pytest.mark.fault("link", "a program closes its port while a thread of it reads", "nothing: the thread ends")
@every(*PACED)
def test_reader_ends_when_the_link_is_closed_under_it(ends: Ends) -> None:
    """A thread in the middle of a read ends, in a link lost and nothing else."""
    raised: list[BaseException] = []
    reading = threading.Event()

    def read() -> None:
        try:
            while True:
                ends.link.read(0.2)
                reading.set()
        except BaseException as error:
            raised.append(error)

    reader = threading.Thread(target=read)
    reader.start()
    assert reading.wait(PATIENCE_S)
    ends.link.close()
    reader.join(PATIENCE_S)
    assert not reader.is_alive()
    assert [type(error) for error in raised] == [LinkLost]
