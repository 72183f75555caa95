"""The class's server attacked by hand: nobody but who may moves the clock, nothing leaks, and the class goes on."""

from __future__ import annotations

import contextlib
import json
import logging
import os
import socket
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from websockets.exceptions import ConnectionClosed, InvalidStatus
from websockets.sync.client import ClientConnection, connect

from handtick.classroom import guard, server
from handtick.classroom.asked import ANYONE, DEEDS, LONGEST_MESSAGE
from handtick.classroom.guard import MOST_STRANGERS
from handtick.classroom.meter import AT_ONCE, Meter
from handtick.classroom.words import TRIES_A_MINUTE, room_word, secret
from handtick.log import LogReader
from tests.classroom.a_class import AClass, Page, wait_until

FIELDS: dict[type, Any] = {int: 1, str: "1", bool: True}


class Siege(AClass):
    """A class under attack, with a teacher who is in it from the beginning."""

    def __enter__(self) -> Siege:
        super().__enter__()
        self.desk = self.teacher()
        self.desk.hear(lambda: "clock" in self.desk.told and "room" in self.desk.told)
        self.made = 0
        return self

    def holder(self, name: str = "Wren") -> Page:
        """A pupil who has the crank."""
        page = self.pupil(name)
        page.hear(lambda: "you" in page.told and "room" in page.told)
        self.desk.ask(do="give", person=page.told["you"]["number"])
        page.hear(lambda: page.told["room"]["holder"] == page.told["you"]["number"])
        return page

    def stranger(self, **others: Any) -> ClientConnection:
        """A socket on which nothing was said yet."""
        own = {"origin": f"http://127.0.0.1:{self.port}", "compression": None, **others}
        return connect(f"ws://127.0.0.1:{self.port}/live", **own)

    def answer_to(self, first: dict[str, str]) -> tuple[str, int, str]:
        """What a first message is answered with: all that is told, and the code and sentence of the end."""
        with self.stranger() as page:
            page.send(json.dumps(first))
            told = ""
            with contextlib.suppress(ConnectionClosed):
                while len(told) < 10_000:
                    told += str(page.recv(timeout=15))
            return told, page.close_code or 0, page.close_reason or ""

    def raw(self, sent: bytes = b"") -> socket.socket:
        """A bare connection, with what was sent on it."""
        bare = socket.create_connection(("127.0.0.1", self.port), timeout=15)
        bare.sendall(sent)
        return bare

    def raw_socket(self) -> socket.socket:
        """A bare connection that has become a WebSocket."""
        bare = self.raw(
            f"GET /live HTTP/1.1\r\nHost: 127.0.0.1:{self.port}\r\nOrigin: http://127.0.0.1:{self.port}\r\n"
            "Connection: Upgrade\r\nUpgrade: websocket\r\nSec-WebSocket-Version: 13\r\n"
            "Sec-WebSocket-Key: AAAAAAAAAAAAAAAAAAAAAA==\r\n\r\n".encode()
        )
        assert b" 101 " in bare.recv(4096)
        return bare

    def get(self, path: str, host: str | None = None) -> tuple[int, str]:
        """What a path written just so is answered with: the status, and all that comes with it."""
        where = host if host is not None else f"127.0.0.1:{self.port}"
        with self.raw(f"GET {path} HTTP/1.1\r\nHost: {where}\r\nConnection: close\r\n\r\n".encode("latin-1")) as bare:
            found = read_all(bare).decode("latin-1")
        return int(found.split(" ", 2)[1]), found

    def still_serves(self) -> None:
        """The page comes, the teacher can come back to their seat, and hears of a step that they ask for."""
        assert self.get("/")[0] == 200
        desk = Page(self, {"do": "sit", "seat": self.desk.told["hello"]["seat"]})
        desk.hear(lambda: "clock" in desk.told)
        assert (self.edges, self.room.news.state.reset) == (self.made, 0), "a tick or a reset that nobody asked for"
        desk.ask(do="halt")
        desk.ask(do="step")
        desk.hear(lambda: desk.tick() == self.made + 1)
        desk.close()


@pytest.fixture
def siege(tmp_path: Path, capfd: pytest.CaptureFixture[str], caplog: pytest.LogCaptureFixture) -> Iterator[Siege]:
    """A class whose clock stands, whose teacher can still step it after the attack, and that has kept its secrets."""
    caplog.set_level(logging.INFO)
    with Siege(tmp_path) as a_class:
        yield a_class
        a_class.still_serves()
    shown = capfd.readouterr()
    written = shown.out + shown.err + caplog.text + a_class.log.read_bytes().decode("latin-1")
    assert "Traceback" not in written
    for hidden in (a_class.word, a_class.secret, a_class.desk.told["hello"]["seat"]):
        assert hidden not in written
    assert not caplog.text, "an attack writes to the teacher's screen"


def read_all(bare: socket.socket) -> bytes:
    """All that comes until the connection ends."""
    found = b""
    try:
        while data := bare.recv(65536):
            found += data
    except ConnectionResetError:
        pass
    return found


def cut_off(bare: socket.socket) -> bool:
    """Whether the other side ends a connection."""
    read_all(bare)
    return True


def cut_off_while(sends: Callable[[], object]) -> bool:
    """Whether whoever sends something again and again is cut off."""
    try:
        for _ in range(40_000):
            sends()
    except (ConnectionClosed, OSError):
        return True
    return False


def by_hand(do: str) -> dict[str, Any]:
    """A message that asks for something, with fields of the right types."""
    return {"do": do, **{name: FIELDS[kind] for name, kind in DEEDS[do].fields.items()}}


# Who may what.


@pytest.mark.fault(
    "class",
    "a watcher and a pupil without the crank send every command by hand",
    "each is refused with a sentence; the clock stands, and the door, the row and the limits are as they were",
)
@pytest.mark.parametrize("role", ["watch", "join"])
def test_whoever_has_no_crank_sends_every_command_by_hand(siege: Siege, role: str) -> None:
    """Each is refused with a sentence; the clock stands, the door stays open, and nobody has the crank."""
    first = {"do": role, "word": siege.word} | ({"name": "Wren"} if role == "join" else {})
    page = Page(siege, first)
    page.hear(lambda: "you" in page.told)
    before = siege.room.told()
    for do, deed in DEEDS.items():
        if deed.who != ANYONE:
            assert page.refused(**by_hand(do))
    after = siege.room.told()
    assert {key: after[key] for key in before} == before | {"here": after["here"]}
    assert not any(event.get("export") for event in page.all)


def test_the_crank_once_taken_back_moves_nothing(siege: Siege) -> None:
    """What its last holder goes on sending is refused."""
    page = siege.holder()
    siege.desk.ask(do="take")
    page.hear(lambda: page.told["room"]["holder"] is None)
    for do in ("step", "half", "run", "to", "return"):
        assert "the teacher has the crank" in page.refused(**by_hand(do))


def test_a_pupil_sent_out_moves_nothing_and_has_no_seat(siege: Siege) -> None:
    """Neither on the old connection nor on a new one."""
    page = siege.holder()
    siege.desk.ask(do="remove", person=page.told["you"]["number"])
    assert page.ended()[0] == server.REMOVED
    again = Page(siege, {"do": "sit", "seat": page.told["hello"]["seat"]})
    assert again.ended() == (server.DENIED, "that seat is gone; join again")


# Secrets.


def firsts(a_class: Siege) -> dict[str, dict[str, str]]:
    """First messages with secrets that are none here."""
    return {
        "the word of an earlier run": {"do": "join", "name": "Wren", "word": room_word()},
        "the secret of an earlier run": {"do": "teach", "word": secret()},
        "the room word as the secret": {"do": "teach", "word": a_class.word},
        "the teacher's secret as the room word": {"do": "join", "name": "Wren", "word": a_class.secret},
        "no word": {"do": "watch", "word": ""},
        "half of the secret": {"do": "teach", "word": a_class.secret[:13]},
        "a seat of an earlier run": {"do": "sit", "seat": secret()},
        "the secret as a seat": {"do": "sit", "seat": a_class.secret},
        "no seat": {"do": "sit", "seat": ""},
    }


@pytest.mark.fault(
    "class",
    "words, secrets and seats of an earlier run, each in the place of each",
    "nobody is let in; the answer is one sentence and tells nothing",
)
def test_secrets_that_are_none_here_let_nobody_in(siege: Siege) -> None:
    """Each is answered with one sentence, which tells nothing but that."""
    for which, first in firsts(siege).items():
        told, code, why = siege.answer_to(first)
        assert (told, code) == ("", server.DENIED), which
        assert why in ("that is not the word of this room", "that seat is gone; join again"), which
    assert len(siege.room.people.known) == 1


@pytest.mark.fault(
    "class",
    "more than ten wrong words in a minute",
    "the right one is refused too, from that address; who is in comes back to their seat",
)
def test_ten_wrong_words_a_minute_are_compared_and_no_more(siege: Siege) -> None:
    """After that not even the right one is, from that address; who has a seat comes back to it."""
    whys = []
    for number in range(TRIES_A_MINUTE + 2):
        whys.append(siege.answer_to({"do": "teach" if number % 2 else "watch", "word": room_word()})[2])
    whys.append(siege.answer_to({"do": "teach", "word": siege.secret})[2])
    assert whys[:TRIES_A_MINUTE] == ["that is not the word of this room"] * TRIES_A_MINUTE
    assert whys[TRIES_A_MINUTE:] == ["too many wrong words from this address; wait a minute"] * 3


@pytest.mark.fault(
    "class",
    "a seat is used twice",
    "the earlier window is closed, and what it still sends is not done",
)
def test_of_two_windows_with_one_seat_only_the_later_drives(siege: Siege) -> None:
    """The earlier one is closed, and what it still sends is not done."""
    page = siege.holder()
    later = Page(siege, {"do": "sit", "seat": page.told["hello"]["seat"]})
    later.hear(lambda: "you" in later.told)
    assert page.ended()[0] == server.REPLACED
    with pytest.raises(ConnectionClosed):
        page.ask(do="step")
    assert siege.edges == 0
    later.ask(do="step")
    later.hear(lambda: later.tick() == 1)
    siege.made = 1


def test_nobody_is_told_what_brings_another_back(siege: Siege) -> None:
    """In all that a pupil is told there is no seat but their own, and no secret of the teacher's."""
    first, other = siege.pupil("Wren"), siege.pupil("Finch")
    first.hear(lambda: "room" in first.told)
    other.hear(lambda: "room" in other.told)
    told = json.dumps(other.all)
    assert other.told["hello"]["seat"] in told
    for hidden in (siege.secret, siege.desk.told["hello"]["seat"], first.told["hello"]["seat"]):
        assert hidden not in told


# Messages.

MALFORMED = [
    "",
    "step",
    "null",
    "[]",
    '"step"',
    "{",
    '{"do":"step"',
    '{"do":"step"}{"do":"step"}',
    "[" * 4000,
    '{"do":' * 600,
    '{"do":null}',
    '{"do":["step"]}',
    '{"do":{"do":"step"}}',
    '{"do":"Step"}',
    '{"do":"_do_step"}',
    '{"do":"__class__"}',
    '{"do":"step","count":5}',
    '{"do":"step","do":"halt"}',
    '{"do":"to"}',
    '{"do":"to","tick":NaN}',
    '{"do":"to","tick":Infinity}',
    '{"do":"to","tick":1e999}',
    '{"do":"to","tick":1.0}',
    '{"do":"to","tick":"1"}',
    '{"do":"to","tick":true}',
    '{"do":"to","tick":-1}',
    '{"do":"to","tick":' + "9" * 4000 + "}",
    '{"do":"run","rate":"2\\nstep 1"}',
    '{"do":"run","rate":"\\u0662"}',
    '{"do":"run","rate":"1e9"}',
    '{"do":"run","rate":"\\ud800"}',
]


@pytest.mark.fault(
    "class",
    "malformed messages: deep, huge, doubled, wrong in type, not text",
    "each is refused; the next sensible one is taken",
)
def test_malformed_messages_of_whoever_has_the_crank_move_nothing(siege: Siege) -> None:
    """Each is refused with a sentence, and the next sensible one is taken."""
    page = siege.holder()
    # What a person may send at once is another test's.
    siege.room.people.known[page.told["you"]["number"]].messages = Meter(time.monotonic(), 2 * len(MALFORMED))
    refused = 0
    for text in [*MALFORMED, os.urandom(64), b'{"do":"step"}']:
        page.told.pop("refused", None)
        page.socket.send(text)
        if text != '{"do":"step","do":"halt"}':
            page.hear(lambda: "refused" in page.told)
            refused += 1
            assert siege.secret not in page.told["refused"]
    assert refused == len(MALFORMED) + 1
    assert siege.edges == 0
    page.ask(do="step")
    page.hear(lambda: page.tick() == 1)
    siege.made = 1


@pytest.mark.parametrize(
    "frame",
    [
        pytest.param(b"\x81\x82\0\0\0\0\xff\xfe", id="text that is not UTF-8"),
        pytest.param(b"\x81\xff" + b"\x7f" + b"\xff" * 7, id="a length of 2^63"),
        pytest.param(b"\x81\xfe" + (LONGEST_MESSAGE + 1).to_bytes(2, "big"), id="one byte too long"),
        pytest.param(b"\x81\x05hello", id="not masked"),
        pytest.param(b"\xf3\x80\0\0\0\0", id="a reserved opcode"),
        pytest.param(b"\x80\x80\0\0\0\0", id="a continuation of nothing"),
        pytest.param(b"\x89\xfe\x01\x00" + b"\0" * 260, id="a ping that is too long"),
        pytest.param(b"\xff" * 2000, id="nothing like a frame"),
    ],
)
def test_frames_that_are_none_end_the_connection(siege: Siege, frame: bytes) -> None:
    """Before and after joining alike."""
    with siege.raw_socket() as bare:
        bare.sendall(frame)
        assert siege.word.encode() not in read_all(bare)


@pytest.mark.fault(
    "class",
    "messages, pings, empty pieces and headers without end",
    "the connection is cut off; the others go on",
)
def test_what_is_sent_without_end_is_cut_off(siege: Siege) -> None:
    """Messages, and frames that are no messages: pings, and pieces of nothing."""
    page = siege.pupil("Wren")
    assert cut_off_while(lambda: page.ask(do="wait"))
    other = siege.pupil("Finch")
    for frame in (b"\x89\x80\0\0\0\0", b"\x01\x80\0\0\0\0" + b"\x00\x80\0\0\0\0" * 1000, b"GET / HTTP/1.1\r\n"):
        with siege.raw_socket() as bare:
            assert cut_off_while(lambda bare=bare, frame=frame: bare.sendall(frame))
    other.hear(lambda: "clock" in other.told)


def test_a_flood_does_not_begin_anew_with_the_connection(siege: Siege) -> None:
    """The allowance is a person's, not a connection's."""
    page = siege.pupil("Wren")
    page.hear(lambda: "room" in page.told)
    # However slow this computer is, next to nothing comes back meanwhile.
    siege.room.people.known[page.told["you"]["number"]].messages = Meter(time.monotonic(), AT_ONCE, 0.01)
    assert cut_off_while(lambda: page.ask(do="leave"))
    assert page.ended() == (server.TOO_MUCH, "that was too much at once")
    again = Page(siege, {"do": "sit", "seat": page.told["hello"]["seat"]})
    again.ask(do="leave")
    assert again.ended() == (server.TOO_MUCH, "that was too much at once")


def test_notes_without_end_are_not_written(siege: Siege) -> None:
    """Each goes to the disk at once, so a person has few of them."""
    page = siege.pupil("Wren")
    said = [answered(page, do="note", text=f"note {number}", reset=0, tick=0) for number in range(12)]
    assert said[0] == "said"
    assert said[-1] == "refused"


def answered(page: Page, **what: Any) -> str:
    """Whether something is answered with ``said`` or with ``refused``."""
    page.told.pop("said", None)
    page.told.pop("refused", None)
    page.ask(**what)
    page.hear(lambda: "said" in page.told or "refused" in page.told)
    return "said" if "said" in page.told else "refused"


# Where from.


@pytest.mark.fault(
    "class",
    "a page from elsewhere asks for a socket",
    "refused, as is a program that does not say where its page is from",
)
@pytest.mark.parametrize("origin", [None, "null", "http://elsewhere.example", "http://127.0.0.1", "file://"])
def test_a_page_from_elsewhere_gets_no_socket(siege: Siege, origin: str | None) -> None:
    """Nor does a program that does not say where its page is from."""
    with pytest.raises(InvalidStatus) as refused:
        siege.stranger(origin=origin)
    assert refused.value.response.status_code == 403


@pytest.mark.fault(
    "class",
    "a name that somebody made point at this machine",
    "neither page nor socket",
)
@pytest.mark.parametrize(
    "host",
    ["elsewhere.example", "127.0.0.1.elsewhere.example", "", "[::1]/x", "[::1]x", "fe80::1%/x", "a@127.0.0.1", "::1"],
)
def test_under_a_name_that_is_not_ours_nothing_is_served(siege: Siege, host: str) -> None:
    """A name that somebody made point here (DNS rebinding) gets neither page nor socket."""
    status, told = siege.get("/", host)
    assert status in (400, 421)
    assert "<html" not in told
    with siege.raw(
        f"GET /live HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nConnection: Upgrade\r\nUpgrade: websocket\r\n"
        "Sec-WebSocket-Version: 13\r\nSec-WebSocket-Key: AAAAAAAAAAAAAAAAAAAAAA==\r\n\r\n".encode()
    ) as bare:
        assert read_all(bare).split(b" ")[1] in (b"400", b"403")


# What people type.


@pytest.mark.fault(
    "class",
    "markup, control characters, turned writing or the teacher's name as a name",
    "letters stay letters, the rest is left out, and a name that is taken gets a number",
)
@pytest.mark.parametrize(
    ("typed", "shown"),
    [
        ("<script>a()</script>", "<script>a()</script>"),
        ("Wren\x1b[2J\x07", "Wren [2J"),
        ("Wr\u202een\u2066", "Wr en"),
        ("Wren\n\r\t\0Finch", "Wren Finch"),
        ("W\ud800ren", "W ren"),
        ("the teacher", "the teacher (2)"),
        ("ＴＨＥ Teacher", "ＴＨＥ Teacher (2)"),
        ("=1+1", "=1+1"),
    ],
)
def test_a_name_is_text_in_one_line_and_nobody_elses(siege: Siege, typed: str, shown: str) -> None:
    """Markup stays letters, which the page puts in as text and runs nothing of; what is not to be seen is left out."""
    page = siege.pupil(typed)
    page.hear(lambda: "you" in page.told)
    assert page.told["you"]["name"] == shown
    _, head = siege.get("/")
    assert "content-security-policy: default-src 'none'; script-src 'self'" in head.lower()


@pytest.mark.parametrize(
    ("typed", "written"),
    [
        ("turns\x1b[2J here", "Wren: turns [2J here"),
        ("turns\u202ehere", "Wren: turns here"),
        ("turns\ud800here", "Wren: turns here"),
        ("turns\0\n here", "Wren: turns here"),
    ],
)
def test_a_note_is_text_in_one_line(siege: Siege, typed: str, written: str) -> None:
    """What would move the cursor of whoever reads the log, or can't be written at all, is left out."""
    siege.pupil("Wren").answer("said", do="note", text=typed, reset=0, tick=0)
    with LogReader.open(siege.log) as log:
        wait_until(lambda: bool(log.notes()))
        assert [note.text for note in log.notes()] == [written]


# Paths.


@pytest.mark.fault(
    "class",
    "path tricks: dots, encodings, backslashes, null bytes",
    "the page's own files under their own names, or nothing",
)
@pytest.mark.parametrize(
    "path",
    [
        "/..",
        "/../server.py",
        "/%2e%2e/server.py",
        "/..%2fserver.py",
        "/..%5cserver.py",
        "/..\\server.py",
        "/page/../server.py",
        "/index.html",
        "/handtick.css/",
        "//handtick.css",
        "/handtick.css%00",
        "/%00",
        "/etc/passwd",
        "//etc/passwd",
        "/file:///etc/passwd",
        "/live",
        "/live/..",
        "http://elsewhere.example/",
        "/?/../../server.py",
        "/" + "a" * 8000,
        "/" + "../" * 400 + "etc/passwd",
        "/%",
        "/%c0%ae%c0%ae/server.py",
        "*",
    ],
)
def test_path_tricks_get_nothing_but_the_pages_own_files(siege: Siege, path: str) -> None:
    """A file of the page under its own name, or nothing."""
    status, told = siege.get(path)
    if path.startswith("/?"):
        assert (status, "<!doctype html>" in told) == (200, True)
    else:
        assert status in (400, 404)
        assert not any(mark in told for mark in ("<html", "import ", "root:", "location:"))


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "TRACE", "OPTIONS", "CONNECT"])
def test_pages_are_only_read(siege: Siege, method: str) -> None:
    """Anything but reading is refused, with nothing said back of what was sent."""
    with siege.raw(
        f"{method} / HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Mark: mark\r\nConnection: close\r\n\r\n".encode()
    ) as bare:
        told = read_all(bare).decode()
    assert told.split(" ", 2)[1] in ("400", "405")
    assert "mark" not in told


# Who comes and says nothing, and who never listens.


@pytest.mark.fault(
    "class",
    "connections that say nothing, or half of something",
    "closed after a stated time; who has joined stays",
)
def test_silent_connections_end(siege: Siege, monkeypatch: pytest.MonkeyPatch) -> None:
    """Half a request, a request without end, nothing at all, and a socket on which nobody says who they are."""
    monkeypatch.setattr(guard, "PAGE_S", 0.2)
    monkeypatch.setattr(server, "JOIN_S", 0.2)
    monkeypatch.setattr(guard, "LAST_WORDS_S", 0.2)
    head = b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n"
    silent = [siege.raw(b""), siege.raw(head), siege.raw(head + b"Content-Length: 9999999\r\n\r\n"), siege.raw_socket()]
    for bare in silent:
        with bare:
            assert cut_off(bare)
    assert siege.desk.answer("export", do="export").startswith("reset,"), "who has joined stays"


def test_one_address_does_not_take_all_the_room(siege: Siege) -> None:
    """Beyond so many that have not joined, its connections are closed at once; who has joined does not count."""
    silent = [siege.raw() for _ in range(MOST_STRANGERS)]
    with siege.raw(b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n") as beyond:
        assert read_all(beyond) == b""
    siege.desk.answer("export", do="export")
    for bare in silent:
        bare.close()
    wait_until(lambda: not siege.server.app.state.doorstep.strangers("127.0.0.1"))


@pytest.mark.fault(
    "class",
    "somebody joins and never reads",
    "the others hear of every step; what waits is bounded, and in the end they are cut off",
)
def test_whoever_never_reads_holds_nobody_back(siege: Siege, monkeypatch: pytest.MonkeyPatch) -> None:
    """The others hear of every step; what waits for the deaf one is bounded, and in the end they are cut off."""
    monkeypatch.setattr(server, "SEND_S", 5.0)
    monkeypatch.setattr(guard, "LAST_WORDS_S", 0.2)
    siege._listener.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, 8192)
    with siege.raw_socket() as deaf:
        deaf.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        deaf.sendall(framed({"do": "join", "name": "Wren", "word": siege.word}))
        wait_until(lambda: len(siege.room.people.known) == 2)
        deaf.sendall(b"".join(framed({"do": "back", "reset": 0, "last": 9999}) for _ in range(30)))
        held = 0
        other = siege.pupil("Finch")
        siege.desk.ask(do="run", rate="200")
        began = time.monotonic()
        while siege.room.people.known[2].here and time.monotonic() - began < 60:
            for page in (other, siege.desk):
                seen = page.tick()
                page.hear(lambda page=page, seen=seen: page.tick() > seen)
            held = max(held, waiting(siege))
        assert not siege.room.people.known[2].here, "the deaf one is still held"
        assert 1024 < held < 2**19
        # At rest first: while it is waited for, nobody reads the desk's news either.
        siege.desk.ask(do="halt")
        state = siege.room.news.state
        wait_until(lambda: state.mode == "rest" and state.tick == siege.edges)
        siege.made = siege.edges
        assert cut_off(deaf)


def waiting(siege: Siege) -> int:
    """Bytes that the server holds for whoever has not taken them."""
    connections = list(siege._uvicorn.server_state.connections)
    buffers = sum(each.transport.get_write_buffer_size() for each in connections)
    return buffers + sum(each.waiting for each in list(siege.server._connections))


def framed(message: dict[str, Any]) -> bytes:
    """A message as a client sends it (RFC 6455), masked with zeros."""
    text = json.dumps(message).encode()
    assert len(text) < 126
    return bytes((0x81, 0x80 | len(text))) + b"\0\0\0\0" + text
