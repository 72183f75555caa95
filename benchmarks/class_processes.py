"""The three processes of a class that is measured: the board, the server of ``handtick share``, and the viewers.

Usage: ``python -m benchmarks.class_processes board|serve|view ...``, as ``class_run`` starts them.
"""

from __future__ import annotations

import asyncio
import json
import os
import resource
import sys
import threading
import time
from pathlib import Path
from typing import Any

from benchmarks.heard import WIRING

# Viewers that open their connection at the same time, as pages do when a class comes in.
AT_ONCE = 20


def board() -> None:
    """The board's process: says its port, serves until its input ends, then says when its edges were: on its own time,
    and when this process came to make them, by the wall clock; both in microseconds."""
    from handtick.virtual.larch_board import PROGRAMS, larch_board
    from handtick.virtual.server import Serving

    there = larch_board(PROGRAMS["long-tally"])
    serving = Serving(there)
    print(serving.port, flush=True)
    ended = threading.Event()
    threading.Thread(target=lambda: (sys.stdin.read(), ended.set()), daemon=True).start()
    made_us: list[float] = []
    while not ended.is_set():
        serving.serve_once(0.01)
        made_us += [time.monotonic_ns() / 1000] * (len(there.line.edges) - len(made_us))
    json.dump([(at, made) for (at, rising), made in zip(there.line.edges, made_us, strict=True) if rising], sys.stdout)


class Server:
    """The server's process: serves, and answers each line of its input with figures of its own."""

    def __init__(self, port: str, log: str, most: int) -> None:
        from handtick.classroom.addresses import bound
        from handtick.classroom.feed import Feed
        from handtick.classroom.room import Room
        from handtick.classroom.server import Server as ClassServer
        from handtick.classroom.words import room_word, secret
        from handtick.links.serial_port import SerialLink
        from handtick.live.driver import Driver
        from handtick.opening import open_link
        from handtick.wiring import load_wiring

        wiring, feed = load_wiring(WIRING), Feed()
        self._driver = Driver(feed, lambda: open_link(SerialLink(port), Path(log), wiring))
        self.room = Room(wiring, self._driver, most_here=most)
        self.drawn: dict[int, float] = {}
        since = self.room.news.since

        def noted() -> dict[str, Any]:
            began = time.monotonic()
            news = since()
            self.drawn[news["tick"]] = began
            return news

        self.room.news.since = noted  # type: ignore[method-assign]
        self._listener = bound(False, 0)
        word = room_word()
        self.app = ClassServer(self.room, feed, word, secret(), ["localhost"]).app
        print(json.dumps({"port": self._listener.getsockname()[1], "word": word}), flush=True)

    def run(self) -> None:
        """Serves until the input ends."""
        import uvicorn

        from handtick.classroom.serving import FILES, allow_files, configured

        # As ``serving.serve`` does, but for a server that ends when it is told to.
        allow_files(FILES)
        serving = uvicorn.Server(configured(self.app))
        threading.Thread(target=self._obey, args=(serving,), daemon=True).start()
        self._driver.start()
        try:
            serving.run(sockets=[self._listener])
        finally:
            self._driver.stop()

    def _obey(self, serving: Any) -> None:
        for line in sys.stdin:
            words = line.split()
            if words[0] in ("run", "halt"):
                self._driver.send(words[0], *words[1:])
            used = resource.getrusage(resource.RUSAGE_SELF)
            state = self.room.news.state
            answer = {
                "tick": state.tick,
                "mode": state.mode,
                "here": self.room.people.count(),
                "cpu_s": used.ru_utime + used.ru_stime,
                "memory_mib": memory_mib(),
                "drawn": self.drawn if words[0] == "drawn" else {},
            }
            print(json.dumps(answer), flush=True)
        serving.should_exit = True


def memory_mib() -> float:
    """Memory that this process has now; where the system does not say, the most it ever had."""
    try:
        return int(Path("/proc/self/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 2**20
    except OSError:
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**10


def viewers(port: str, word: str, many: str) -> None:
    """The viewers' process: joins, says so, reads until its input ends, then says what came when."""
    from handtick.classroom.serving import FILES, allow_files

    allow_files(FILES)
    json.dump(asyncio.run(all_viewers(int(port), word, int(many))), sys.stdout)


async def all_viewers(port: int, word: str, many: int) -> list[list[tuple[int, float]]]:
    """Joins with so many; gives the tick and the time of each piece of news of each."""
    ended = asyncio.Event()
    asyncio.get_running_loop().add_reader(sys.stdin.fileno(), ended.set)
    door, inside = asyncio.Semaphore(AT_ONCE), asyncio.Semaphore(0)
    came: list[list[tuple[int, float]]] = [[] for _ in range(many)]
    tasks = [asyncio.create_task(viewer(port, word, place, came[place], door, inside)) for place in range(many)]
    for _ in range(many):
        await inside.acquire()
    print("inside", flush=True)
    await ended.wait()
    for task in tasks:
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)
    return came


async def viewer(
    port: int, word: str, place: int, came: list[tuple[int, float]], door: asyncio.Semaphore, inside: asyncio.Semaphore
) -> None:
    """One viewer; comes back when its connection is lost, as a page does."""
    from websockets.asyncio.client import connect
    from websockets.exceptions import WebSocketException

    first = {"do": "join", "name": f"viewer {place}", "word": word}
    released = False
    while True:
        try:
            async with door:
                ours = connect(f"ws://127.0.0.1:{port}/live", origin=f"http://127.0.0.1:{port}", compression=None)
                socket = await ours.__aenter__()
                await socket.send(json.dumps(first))
                hello = json.loads(await socket.recv())["hello"]
            first = {"do": "sit", "seat": hello["seat"]}
            if not released:
                released = True
                inside.release()
            try:
                while True:
                    text = await socket.recv(decode=False)
                    now = time.monotonic()
                    assert isinstance(text, bytes)
                    at = text.find(b'"tick": ') if text.startswith(b'{"clock"') else -1
                    if at >= 0:
                        came.append((int(text[at + 8 : text.index(b",", at)]), now))
            finally:
                await ours.__aexit__(None, None, None)
        except (OSError, WebSocketException):
            await asyncio.sleep(0.5)


if __name__ == "__main__":
    what, *rest = sys.argv[1:]
    if what == "board":
        board()
    elif what == "serve":
        Server(rest[0], rest[1], int(rest[2])).run()
    else:
        viewers(*rest)
