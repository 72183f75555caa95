"""A room elsewhere, for tests: a program of its own at the broker, with another client library's way of doing it."""

from __future__ import annotations

import itertools
import json
from collections.abc import Callable
from typing import Any, Self

import paho.mqtt.client as mqtt
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from tests.classroom.a_class import wait_until

PREFIX = "school/larch"
_IDS = itertools.count(1)


class RemoteRoom:
    """Somebody at the broker, from ``with`` to its end; comes back by itself when the broker does.

    Args:
        port: the broker's.
        name: who; also the user.
        password: theirs, if the broker asks for one.
    """

    def __init__(self, port: int, name: str, password: str | None = None) -> None:
        self.name = name
        self.seat = ""
        self.here: dict[str, Any] = {}
        self.standing: dict[str, Any] = {}
        self.batches: list[dict[str, Any]] = []
        self.all: list[tuple[str, dict[str, Any]]] = []
        self.granted = 0
        self.answers: dict[int, dict[str, Any]] = {}
        self._port = port
        self.client = mqtt.Client(CallbackAPIVersion.VERSION2, protocol=mqtt.MQTTv5)
        self.client.reconnect_delay_set(1, 1)
        if password is not None:
            self.client.username_pw_set(name, password)
        self.client.on_connect = self._subscribe
        self.client.on_subscribe = self._subscribed
        self.client.on_message = self._hear

    def __enter__(self) -> Self:
        self.client.connect("127.0.0.1", self._port, keepalive=10)
        self.client.loop_start()
        self.until(lambda: self.granted > 0)
        return self

    def __exit__(self, *_: object) -> None:
        self.client.disconnect()
        self.client.loop_stop()

    @property
    def ticks(self) -> list[int]:
        """The ticks of all batches."""
        return [tick["tick"] for batch in self.batches for tick in batch["new"]]

    @property
    def answer_to(self) -> str:
        """Where this room is answered."""
        return f"{PREFIX}/answers/{self.name}/1"

    def until(self, true: Callable[[], bool]) -> None:
        """Waits until something is true."""
        wait_until(true)

    def arrive(self) -> None:
        """Waits until the class is here and all that stands of it."""
        self.until(lambda: bool(self.here.get("here")) and {"clock", "room"} <= set(self.standing))

    def join(self, word: str) -> None:
        """Joins with the room word."""
        self.seat = self.answer(do="join", name=self.name, word=word)["hello"]["seat"]

    def ask(self, do: str, /, **fields: Any) -> dict[str, Any]:
        """Asks for something with one's seat, and returns the answer."""
        return self.answer(do=do, seat=self.seat, **fields)

    def answer(self, **what: Any) -> dict[str, Any]:
        """Sends a message with a new id, and returns the answer."""
        number = next(_IDS)
        self.send(id=number, **what)
        self.until(lambda: number in self.answers)
        return self.answers[number]

    def send(
        self, epoch: str | None = None, retain: bool = False, expiry_s: int | None = 5, answer_to: str = "", **what: Any
    ) -> None:
        """Sends a message."""
        properties = Properties(PacketTypes.PUBLISH)
        properties.ResponseTopic = answer_to or self.answer_to
        properties.CorrelationData = str(what.get("id")).encode()
        if expiry_s is not None:
            properties.MessageExpiryInterval = expiry_s
        topic = f"{PREFIX}/ask/{epoch or self.here['epoch']}"
        self.client.publish(topic, json.dumps(what), qos=1, retain=retain, properties=properties)

    def _subscribe(self, client: mqtt.Client, _data: Any, _flags: Any, code: Any, _properties: Any) -> None:
        if not code.is_failure:
            topics = ("here", "clock", "room", "ticks", f"answers/{self.name}/#")
            client.subscribe([(f"{PREFIX}/{topic}", mqtt.SubscribeOptions(qos=1)) for topic in topics])

    def _subscribed(self, _client: mqtt.Client, _data: Any, _mid: int, codes: list[Any], _properties: Any) -> None:
        assert not any(code.is_failure for code in codes), codes
        self.granted += 1

    def _hear(self, _client: mqtt.Client, _data: Any, message: mqtt.MQTTMessage) -> None:
        behind = message.topic.removeprefix(f"{PREFIX}/")
        if not message.payload:
            self.standing.pop(behind, None)
            return
        said = json.loads(message.payload)
        self.all.append((behind, said))
        if behind == "here":
            self.here = said
        elif behind == "ticks":
            self.batches.append(said)
        elif behind.startswith("answers/"):
            correlation = getattr(message.properties, "CorrelationData", None)
            assert correlation == str(said.get("id")).encode() or "id" not in said
            self.answers[int(correlation or b"0")] = said
        elif behind in ("clock", "room"):
            self.standing[behind] = said
