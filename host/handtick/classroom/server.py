"""The room on the network: a page, and a socket a person. All decisions are the room's; here are connections only."""

from __future__ import annotations

import asyncio
import contextlib
import json
import signal
import time
from collections import deque
from collections.abc import AsyncIterator, Iterable, Mapping
from importlib.resources import files
from typing import Any, Protocol

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route, WebSocketRoute
from starlette.websockets import WebSocket, WebSocketDisconnect, WebSocketState

from handtick.classroom.asked import DEEDS, JOINING, read
from handtick.classroom.door import host_is_ours, origin_is_ours
from handtick.classroom.ending import end
from handtick.classroom.feed import Feed
from handtick.classroom.guard import Doorstep
from handtick.classroom.people import PUPIL, SCREEN, TEACHER, Person
from handtick.classroom.room import Room
from handtick.classroom.words import Tries
from handtick.errors import HandtickError, Refused

#: Seconds between two pieces of news: at most twenty a second.
NEWS_S = 0.05
#: Seconds after which pages are told how the clock stands though nothing has happened: a page can't tell a quiet room
#: from a network that is gone.
QUIET_S = 4.0
#: Seconds in which a new connection must say who it is.
JOIN_S = 20.0
#: Seconds in which a connection must take what is sent to it.
SEND_S = 20.0
#: Seconds in which what goes on beside the connections must have ended, before it is told so again.
END_S = 10.0
#: Letters of messages that may wait for one person before they are taken for gone.
MOST_WAITING = 262_144
#: Why a connection is closed (RFC 6455, private codes), beside the sentence.
DENIED, REPLACED, REMOVED, TOO_MUCH = 4001, 4002, 4003, 4004

_PAGE = {
    "/": ("index.html", "text/html"),
    "/handtick.css": ("handtick.css", "text/css"),
    "/handtick.js": ("handtick.js", "text/javascript"),
    "/link.js": ("link.js", "text/javascript"),
    "/view.js": ("view.js", "text/javascript"),
    "/history.js": ("history.js", "text/javascript"),
    "/drawing.js": ("drawing.js", "text/javascript"),
    "/icon.svg": ("icon.svg", "image/svg+xml"),
}
_HEADERS = {
    "Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; "
    "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cache-Control": "no-cache",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}


class Elsewhere(Protocol):
    """Another way to the class than its page."""

    def take(self, clock: Mapping[str, Any], room_changed: bool) -> None:
        """Takes the news, as pages get it."""
        ...

    async def stay(self) -> None:
        """Keeps the way open until it is cancelled."""
        ...


class Connection:
    """One socket of somebody who has joined."""

    def __init__(self, person: Person) -> None:
        self.person = person
        self.notes: deque[str] = deque()
        self.waiting = 0
        self.seen = -1
        self.told = ""
        self.wake = asyncio.Event()
        self.ended: tuple[int, str] | None = None

    def tell(self, **said: Any) -> None:
        """Puts a message for this person alone into their row."""
        text = json.dumps(said)
        if not self.notes or self.waiting + len(text) <= MOST_WAITING:
            self.notes.append(text)
            self.waiting += len(text)
        else:
            self.end(TOO_MUCH, "this page does not take what is sent to it")
        self.wake.set()

    def next(self) -> str:
        """Takes the first message out of the row."""
        text = self.notes.popleft()
        self.waiting -= len(text)
        return text

    def tell_of_themselves(self, you: dict[str, Any]) -> None:
        """Tells this person what concerns them alone, where it is not what they were told last."""
        told = json.dumps(you)
        if told != self.told:
            self.told = told
            self.tell(you=you)

    def end(self, code: int, why: str) -> None:
        """Ends the connection."""
        self.ended = self.ended or (code, why)
        self.wake.set()


class Server:
    """The application.

    Args:
        room: the room.
        feed: what the driver told.
        room_word: what people type to join.
        teacher_word: what the teacher's link has.
        names: this machine's names, beside addresses in figures.
        title: what the page is called.
        elsewhere: another way to the class, if there is one.

    Attributes:
        failed: an error of our own that ended it; None while there is none.
    """

    def __init__(
        self,
        room: Room,
        feed: Feed,
        room_word: str,
        teacher_word: str,
        names: Iterable[str],
        title: str = "handtick",
        elsewhere: Elsewhere | None = None,
    ) -> None:
        self._room = room
        self._feed = feed
        self._room_word = room_word
        self._teacher_word = teacher_word
        self._names = frozenset(name.lower() for name in names)
        self._title = title
        self._elsewhere = elsewhere
        self.failed: BaseException | None = None
        self._tries = Tries()
        self._connections: set[Connection] = set()
        self._news_number = 1
        self._delta = self._whole = ""
        self.app = Starlette(
            routes=[*(Route(path, self._page) for path in _PAGE), WebSocketRoute("/live", self._socket)],
            lifespan=self._lifespan,
        )
        self.app.router.redirect_slashes = False
        self._doorstep = self.app.state.doorstep = Doorstep()

    # The page.

    async def _page(self, request: Request) -> Response:
        if not host_is_ours(request.headers.get("host", ""), self._names):
            return PlainTextResponse("this is not the name of this machine; use its address in figures", 421)
        name, kind = _PAGE[request.scope["path"]]
        body = (files("handtick.classroom") / "page" / name).read_bytes()
        return Response(body, media_type=kind, headers=_HEADERS)

    # The news.

    @contextlib.asynccontextmanager
    async def _lifespan(self, app: Starlette) -> AsyncIterator[None]:
        tasks = [asyncio.create_task(self._tell_news())]
        if self._elsewhere is not None:
            tasks.append(asyncio.create_task(self._elsewhere.stay()))
        for task in tasks:
            task.add_done_callback(self._see_whether_failed)
        try:
            yield
        finally:
            await end(tasks, END_S)

    def _see_whether_failed(self, task: asyncio.Task[None]) -> None:
        """An error of our own ends the class as Ctrl-C does, instead of freezing it."""
        if not task.cancelled() and task.exception() is not None:
            self.failed = task.exception()
            signal.raise_signal(signal.SIGINT)

    async def _tell_news(self) -> None:
        due_s = told_s = time.monotonic()
        while True:
            # On the dot, but never sooner after a late one.
            due_s = max(due_s + NEWS_S, time.monotonic())
            await asyncio.sleep(due_s - time.monotonic())
            self._feed.empty_into(self._room)
            self._room.pass_time(time.monotonic())
            changed = self._room.news.changed or self._room.changed
            if changed or due_s - told_s >= QUIET_S:
                told_s = due_s
                self._draw_up(changed)

    def _draw_up(self, changed: bool) -> None:
        """Draws the news up, once for everybody."""
        news: dict[str, Any] = {"clock": self._room.news.since()}
        if self._elsewhere is not None and changed:
            self._elsewhere.take(news["clock"], self._room.changed)
        if self._room.changed:
            self._room.changed = False
            news["room"] = self._room.told()
            for connection in self._connections:
                connection.tell_of_themselves(self._room.told_to(connection.person))
        self._delta = json.dumps(news)
        self._whole = ""
        self._news_number += 1
        for connection in self._connections:
            connection.wake.set()

    def _news_for(self, connection: Connection) -> str:
        """What a connection has not seen yet: the latest news, or everything where it has missed some."""
        follows = connection.seen == self._news_number - 1
        connection.seen = self._news_number
        if follows:
            return self._delta
        self._whole = self._whole or json.dumps({"clock": self._room.news.whole(), "room": self._room.told()})
        return self._whole

    # The socket.

    async def _socket(self, socket: WebSocket) -> None:
        host = socket.headers.get("host", "")
        if not host_is_ours(host, self._names) or not origin_is_ours(socket.headers.get("origin"), host):
            await socket.close(DENIED)
            return
        await socket.accept()
        try:
            await self._converse(socket)
        except (WebSocketDisconnect, TimeoutError):
            pass
        except HandtickError as error:
            await _close(socket, DENIED, str(error))

    async def _converse(self, socket: WebSocket) -> None:
        first = await asyncio.wait_for(_receive(socket), JOIN_S)
        host, port = socket.client or ("", 0)
        person = self._let_in(first, host)
        self._doorstep.leaves((host, port))
        connection = Connection(person)
        connection.tell(
            hello={
                "title": self._title,
                "buses": self._room.news.buses(),
                "seat": person.seat,
                "word": self._room_word,
            }
        )
        connection.tell_of_themselves(self._room.told_to(person))
        self._connections.add(connection)
        self._room.here(person)
        listener = asyncio.create_task(self._listen(socket, connection))
        try:
            await self._tell(socket, connection)
        finally:
            listener.cancel()
            self._connections.discard(connection)
            self._room.away(person, time.monotonic())
            with contextlib.suppress(asyncio.CancelledError, WebSocketDisconnect):
                await listener

    def _let_in(self, text: str | bytes, address: str) -> Person:
        """Who somebody is who has just said their first message."""
        asked = read(text, JOINING)
        if asked.do == "sit":
            return self._let_back(asked.fields["seat"])
        role = {"join": PUPIL, "teach": TEACHER, "watch": SCREEN}[asked.do]
        word = self._teacher_word if role == TEACHER else self._room_word
        self._tries.compare(address, asked.fields["word"], word, time.monotonic())
        return self._room.join(asked.fields.get("name", f"the {role}"), role)

    def _let_back(self, seat: str) -> Person:
        person = self._room.people.sits(seat)
        if person is None:
            raise Refused("that seat is gone; join again")
        for other in self._connections:
            if other.person is person:
                other.end(REPLACED, "this seat was taken up in another window")
        return person

    async def _listen(self, socket: WebSocket, connection: Connection) -> None:
        try:
            while connection.ended is None:
                text = await _receive(socket)
                # Ended meanwhile: what came is no longer asked by whoever has this seat.
                if connection.ended is None:
                    self._answer(connection, text)
        finally:
            connection.end(1000, "")

    def _answer(self, connection: Connection, text: str | bytes) -> None:
        person, now_s = connection.person, time.monotonic()
        if not person.messages.take(now_s):
            connection.end(TOO_MUCH, "that was too much at once")
            return
        try:
            asked = read(text, _FIELDS)
            if asked.do == "note":
                person.count_note(now_s)
            answer = self._room.take(person, asked)
        except HandtickError as error:
            connection.tell(refused=str(error))
        else:
            if answer is not None:
                connection.tell(**answer)
        self._send_out_removed()

    def _send_out_removed(self) -> None:
        for other in self._connections:
            if other.person.number not in self._room.people.known:
                other.end(REMOVED, "the teacher has sent you out")

    async def _tell(self, socket: WebSocket, connection: Connection) -> None:
        while connection.ended is None:
            while connection.notes:
                await self._send(socket, connection.next())
            if connection.seen != self._news_number:
                await self._send(socket, self._news_for(connection))
            elif not connection.notes and connection.ended is None:
                connection.wake.clear()
                await connection.wake.wait()
        await _close(socket, *connection.ended)

    async def _send(self, socket: WebSocket, text: str) -> None:
        async with asyncio.timeout(SEND_S):
            await socket.send_text(text)


_FIELDS = {name: deed.fields for name, deed in DEEDS.items()}


async def _receive(socket: WebSocket) -> str | bytes:
    message = await socket.receive()
    if message["type"] == "websocket.disconnect":
        raise WebSocketDisconnect(message.get("code", 1000))
    text: str | bytes | None = message.get("text")
    return text if text is not None else message.get("bytes", b"")


async def _close(socket: WebSocket, code: int, why: str) -> None:
    if socket.application_state is WebSocketState.CONNECTED and socket.client_state is WebSocketState.CONNECTED:
        with contextlib.suppress(RuntimeError, WebSocketDisconnect):
            # A reason has at most 123 bytes (RFC 6455, 5.5).
            await socket.close(code, why.encode(errors="replace")[:120].decode(errors="ignore"))
