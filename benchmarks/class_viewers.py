"""A class of hundreds: how much of the news reaches them, how late, and does the clock notice?

Usage: ``python benchmarks/class_viewers.py [VIEWERS [SECONDS]]``. Three processes: a virtual board, whose clock runs at
some hundreds of ticks a second; the server of ``handtick share`` with its session and its log; and the viewers, each a
WebSocket of its own. First the clock runs without viewers, then with them. Prints figures; asserts only that no tick is
missing from the log. More viewers than the room takes are let in here, to see what happens.
"""

from __future__ import annotations

import asyncio
import itertools
import json
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path
from typing import Any

RATE_HZ = 300
ALONE_S = 20.0
# Viewers that open their connection at the same time, as pages do when a class comes in.
AT_ONCE = 20
WIRING = Path(__file__).parents[1] / "examples" / "larch.toml"


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

        from handtick.classroom.serving import configured

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


# The server's figures before and after a span, and the load of the machine at its end.
Measured = tuple[dict[str, Any], dict[str, Any], float]


class Process:
    """One of the three processes, by its first argument."""

    def __init__(self, *arguments: str) -> None:
        self._process = subprocess.Popen(
            [sys.executable, __file__, *arguments], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )

    def line(self) -> str:
        """Its next line."""
        assert self._process.stdout is not None
        return self._process.stdout.readline()

    def ask(self, words: str) -> dict[str, Any]:
        """Sends a line and takes the answer."""
        assert self._process.stdin is not None
        self._process.stdin.write(words + "\n")
        self._process.stdin.flush()
        answer: dict[str, Any] = json.loads(self.line())
        return answer

    def end(self) -> str:
        """Lets it end, and gives the rest of what it says."""
        said, _ = self._process.communicate(timeout=120)
        return said


def span(server: Process, seconds: float) -> Measured:
    """Lets time pass: the server's figures before and after, and the load of the machine meanwhile."""
    before = server.ask("figures")
    time.sleep(seconds)
    return before, server.ask("figures"), os.getloadavg()[0]


def part(edges_us: list[list[float]], measured: Measured) -> list[list[float]]:
    """The edges of a span."""
    return edges_us[measured[0]["tick"] : measured[1]["tick"]]


def apart(edges_us: list[list[float]]) -> str:
    """How far apart edges were on the board's own time: shortest, middle, longest."""
    gaps = sorted(later[0] - earlier[0] for earlier, later in itertools.pairwise(edges_us))
    return f"{gaps[0]:.0f} / {statistics.median(gaps):.0f} / {gaps[-1]:.0f}"


def behind(edges_us: list[list[float]], promptest_us: float) -> str:
    """How far the board's process was behind the wall clock when it made edges: middle, 99th percentile, longest."""
    late_ms = sorted((made - edge - promptest_us) / 1000 for edge, made in edges_us)
    return f"{statistics.median(late_ms):.1f} / {late_ms[int(0.99 * len(late_ms))]:.1f} / {late_ms[-1]:.1f}"


class Run:
    """One run of all three processes, and what came of it.

    Args:
        many: how many viewers.
        seconds: for how long they watch.
    """

    def __init__(self, many: int, seconds: float) -> None:
        self.many, self.seconds = many, seconds
        with tempfile.TemporaryDirectory() as folder:
            log = Path(folder) / "log.sqlite3"
            self._measure(log)
            self.ticks = logged(log)

    def _measure(self, log: Path) -> None:
        machine = Process("board")
        server = Process("serve", machine.line().strip(), str(log), str(self.many + 1))
        where = json.loads(server.line())
        while not server.ask("figures")["mode"]:
            time.sleep(0.1)
        server.ask(f"run {RATE_HZ}")
        time.sleep(1.0)
        self.alone = span(server, ALONE_S)
        crowd = Process("view", str(where["port"]), where["word"], str(self.many))
        crowd.line()
        time.sleep(2.0)
        self.crowd = span(server, self.seconds)
        self.drawn = {int(tick): at for tick, at in server.ask("drawn")["drawn"].items()}
        self.came: list[list[list[float]]] = json.loads(crowd.end())
        server.ask("halt")
        time.sleep(1.0)
        server.end()
        self.edges_us: list[list[float]] = json.loads(machine.end())

    def news(self) -> tuple[int, float, list[float]]:
        """How many pieces of news were drawn up while the viewers watched, which share of them reached a viewer, in
        percent, and after how long, in milliseconds, the promptest first."""
        first, last = self.crowd[0]["tick"], self.crowd[1]["tick"]
        drawn = {tick: at for tick, at in self.drawn.items() if first < tick <= last}
        reached = [{int(tick): at for tick, at in each if tick in drawn} for each in self.came]
        delays_ms = sorted(1000 * (at - drawn[tick]) for each in reached for tick, at in each.items())
        return len(drawn), 100 * len(delays_ms) / (len(drawn) * self.many), delays_ms


def logged(path: Path) -> int:
    """How many ticks are in the log, of which none may be missing."""
    from handtick.log import LogReader

    with LogReader.open(path) as reader:
        ticks = [tick.tick for tick in reader.all_ticks()]
    assert ticks == list(range(1, len(ticks) + 1)), "a tick is missing from the log"
    return len(ticks)


def main(many: int, seconds: float) -> None:
    """Measures and prints."""
    run = Run(many, seconds)
    alone, crowd = run.alone, run.crowd
    drawn, delivered, delays_ms = run.news()
    promptest_us = min(made - edge for edge, made in run.edges_us)
    for name, value in {
        "viewers": f"{many}, {crowd[1]['here']} of them there at the end",
        "seconds": f"{seconds:g}",
        "pieces of news a second": f"{drawn / seconds:.1f}",
        "delivered": f"{delivered:.2f} %",
        "delay, median / 99th percentile / longest (ms)": f"{statistics.median(delays_ms):.1f} / "
        f"{delays_ms[int(0.99 * len(delays_ms))]:.1f} / {delays_ms[-1]:.1f}",
        "memory, without and with viewers (MiB)": f"{alone[1]['memory_mib']:.0f}, {crowd[1]['memory_mib']:.0f}",
        "server's share of one core, without and with (%)": f"{share_of_core(alone, ALONE_S):.0f}, "
        f"{share_of_core(crowd, seconds):.0f}",
        "ticks a second, without and with": f"{rate(alone, ALONE_S):.1f}, {rate(crowd, seconds):.1f}",
        "edges apart on the board's time, without (us)": apart(part(run.edges_us, alone)),
        "with (shortest / median / longest)": apart(part(run.edges_us, crowd)),
        "board's process behind the wall clock, without (ms)": behind(part(run.edges_us, alone), promptest_us),
        "with (median / 99th percentile / longest)": behind(part(run.edges_us, crowd), promptest_us),
        "ticks in the log": f"{run.ticks}, none missing",
        "load of the machine, without and with": f"{alone[2]:.1f}, {crowd[2]:.1f}",
    }.items():
        print(f"{name:>52}  {value}", flush=True)


def share_of_core(measured: Measured, seconds: float) -> float:
    """How much of one core the server used, in percent."""
    return 100 * (float(measured[1]["cpu_s"]) - float(measured[0]["cpu_s"])) / seconds


def rate(measured: Measured, seconds: float) -> float:
    """Ticks a second."""
    return (int(measured[1]["tick"]) - int(measured[0]["tick"])) / seconds


if __name__ == "__main__":
    what, *rest = sys.argv[1:] or [""]
    if what == "board":
        board()
    elif what == "serve":
        Server(rest[0], rest[1], int(rest[2])).run()
    elif what == "view":
        viewers(*rest)
    else:
        main(int(what or 300), float(rest[0]) if rest else 60.0)
