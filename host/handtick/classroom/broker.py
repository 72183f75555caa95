"""The class at a broker (MQTT 5): the connection, which comes back by itself. All decisions are made elsewhere."""

from __future__ import annotations

import asyncio
import contextlib
import json
import logging
import re
import secrets
import socket
import ssl
import time
from collections import deque
from collections.abc import Callable, Coroutine, Mapping
from typing import Any

import aiomqtt
from aiomqtt import Client, MqttCodeError, MqttError, ProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode
from paho.mqtt.subscribeoptions import SubscribeOptions

from handtick.classroom.asked import LONGEST_MESSAGE
from handtick.classroom.backoff import Backoff
from handtick.classroom.broker_address import BrokerAddress
from handtick.classroom.ending import end
from handtick.classroom.guests import SILENT_S, Guests, Letter
from handtick.classroom.room import Room
from handtick.classroom.topics import EVERY_S, STALE_S, Outbox, Published, Topics
from handtick.errors import UsageError

# Seconds: for an answer of the broker; between two questions whether it is still there; for taking leave.
_PATIENCE_S = 5.0
_KEEP_ALIVE_S = 10
_FAREWELL_S = 2.0
# Letters that may wait unread, and answers that may wait to be sent; more are let fall.
_MOST_LETTERS = 500
_MOST_ANSWERS = 100
# A letter has a topic and properties besides what it says.
_LONGEST_PACKET = LONGEST_MESSAGE + 2048
# What a broker answers to a wrong login (MQTT 5, 3.2.2.2): bad user name or password, not authorized.
_WRONG_LOGIN = (134, 135)


class Broker:
    """Keeps a class at a broker while it lasts.

    Args:
        address: where the broker is.
        tls: what to trust; None for no TLS.
        room: the room.
        room_word: what people join with.
        title: what the class is called.
        say: told in one line what becomes of the connection, each news once.
    """

    def __init__(
        self,
        address: BrokerAddress,
        tls: ssl.SSLContext | None,
        room: Room,
        room_word: str,
        title: str,
        say: Callable[[str], None],
    ) -> None:
        self._address = address
        self._tls = tls
        self._room = room
        self._title = title
        self._say = say
        self._said = ""
        self._topics = Topics(address.prefix)
        self._outbox = Outbox(room, self._topics)
        self._guests = Guests(room, room_word)
        self._answers: deque[tuple[str, dict[str, Any], bytes | None]] = deque(maxlen=_MOST_ANSWERS)
        self._answer_waits = asyncio.Event()
        # The same for each connection: the broker then ends the one before, and its last will can't come later.
        self._identifier = f"handtick-{secrets.token_hex(6)}"

    def take(self, clock: Mapping[str, Any], room_changed: bool) -> None:
        """Takes the news, as pages get it."""
        self._outbox.take(clock, room_changed)

    async def stay(self) -> None:
        """Keeps the connection until it is cancelled."""
        task = asyncio.current_task()
        assert task is not None
        backoff = Backoff()
        while not task.cancelling():
            try:
                await self._connect(backoff)
            except (MqttError, OSError) as error:
                why = "the connection is lost" if backoff.connected else _why(error)
                self._tell(f"{why}; the class goes on without it, and it is tried again")
            finally:
                self._guests.lost(time.monotonic())
            if not task.cancelling():
                await asyncio.sleep(backoff.wait_s(time.monotonic()))

    async def _connect(self, backoff: Backoff) -> None:
        epoch = secrets.token_hex(6)
        ask = self._topics.ask(epoch)
        options = SubscribeOptions(qos=1, retainAsPublished=True, retainHandling=SubscribeOptions.RETAIN_DO_NOT_SEND)
        async with self._client() as client:
            answers = await client.subscribe(ask, options=options)
            if any(isinstance(each, ReasonCode) and each.is_failure for each in answers):
                raise _NotAllowedError(f"it does not let this user read {self._topics.of('ask/#')}")
            self._outbox.start()
            self._answers.clear()
            await self._publish(client, self._topics.here(self._about(epoch)))
            backoff.began(time.monotonic())
            self._tell(f"the class is there, under {self._topics.of('')}")
            try:
                await _together(self._listen(client, ask), self._publish_news(client), self._answer(client))
            except asyncio.CancelledError:
                await self._take_leave(client)
                raise

    async def _take_leave(self, client: Client) -> None:
        with contextlib.suppress(MqttError, TimeoutError):
            async with asyncio.timeout(_FAREWELL_S):
                for each in self._topics.farewell():
                    await self._publish(client, each)

    def _client(self) -> Client:
        gone = self._topics.gone()
        connecting = Properties(PacketTypes.CONNECT)
        connecting.MaximumPacketSize = _LONGEST_PACKET
        return Client(
            self._address.host,
            self._address.port,
            username=self._address.user,
            password=self._address.password,
            identifier=self._identifier,
            protocol=ProtocolVersion.V5,
            # No session: what was published while we were away is not delivered.
            clean_start=True,
            properties=connecting,
            will=aiomqtt.Will(gone.topic, gone.payload, qos=1, retain=gone.retain),
            timeout=_PATIENCE_S,
            keepalive=_KEEP_ALIVE_S,
            max_queued_incoming_messages=_MOST_LETTERS,
            tls_context=self._tls,
            # Small messages, each of which the next one waits for: they go at once.
            socket_options=[(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)],
            logger=_LOGGER,
        )

    def _about(self, epoch: str) -> dict[str, Any]:
        return {"epoch": epoch, "title": self._title, "buses": self._room.news.buses(), "silent_s": SILENT_S}

    async def _listen(self, client: Client, topic: str) -> None:
        async for message in client.messages:
            if message.topic.value != topic or not isinstance(message.payload, bytes):
                continue
            properties = message.properties
            answer_to = getattr(properties, "ResponseTopic", None)
            if answer_to is not None and not self._topics.may_be_answered(answer_to):
                answer_to = None
            letter = Letter(
                message.payload, answer_to, message.retain, getattr(properties, "MessageExpiryInterval", None)
            )
            answer = self._guests.take(letter, time.monotonic())
            if answer is not None and answer_to is not None:
                self._answers.append((answer_to, answer, getattr(properties, "CorrelationData", None)))
                self._answer_waits.set()

    async def _publish_news(self, client: Client) -> None:
        while True:
            now_s = time.monotonic()
            self._guests.pass_time(now_s)
            due = self._outbox.next(now_s)
            if due is not None:
                # The next only once the broker has this one: a slow one is skipped forward.
                await self._publish(client, due)
            await asyncio.sleep(max(0.0, now_s + EVERY_S - time.monotonic()))

    async def _answer(self, client: Client) -> None:
        while True:
            while self._answers:
                topic, answer, correlation = self._answers.popleft()
                await self._publish(client, Published(topic, json.dumps(answer), expiry_s=STALE_S), correlation)
            self._answer_waits.clear()
            await self._answer_waits.wait()

    async def _publish(self, client: Client, what: Published, correlation: bytes | None = None) -> None:
        properties = Properties(PacketTypes.PUBLISH)
        if what.expiry_s is not None:
            properties.MessageExpiryInterval = what.expiry_s
        if correlation is not None:
            properties.CorrelationData = correlation
        await client.publish(what.topic, what.payload.encode(), qos=1, retain=what.retain, properties=properties)

    def _tell(self, what: str) -> None:
        if what != self._said:
            self._said = what
            self._say(f"broker {self._address}: {what}")


class _NotAllowedError(MqttError):
    """The broker does not allow what is needed."""


def trust(address: BrokerAddress, ca: str | None) -> ssl.SSLContext | None:
    """What is trusted of a broker: the system's certificates, or those of a file alone; None where there is no TLS.

    Raises:
        UsageError: the file has no certificate, or there is nothing to trust it for.
    """
    if not address.tls:
        if ca is not None:
            raise UsageError(f"--broker-ca {ca}: there is no TLS to a broker at mqtt://; write mqtts://")
        return None
    try:
        return ssl.create_default_context(cafile=ca)
    except (OSError, ssl.SSLError) as error:
        raise UsageError(f"--broker-ca {ca}: no file of certificates (PEM) that can be read") from error


def _why(error: BaseException) -> str:
    if isinstance(error, MqttCodeError) and isinstance(error.rc, ReasonCode) and error.rc.value in _WRONG_LOGIN:
        return "it does not take this user and password"
    if isinstance(error, _NotAllowedError):
        return str(error)
    # Without the number of the system's error, which says nothing to anybody.
    why = re.sub(r"^\[Errno [^]]*\] ", "", str(error)).rstrip(".")
    return f"not reached ({why or type(error).__name__})"


async def _together(*jobs: Coroutine[Any, Any, None]) -> None:
    """Does jobs at the same time until one of them fails."""
    # Not a task group: before Python 3.13 one that fails leaves its task marked as cancelled.
    tasks = [asyncio.create_task(job) for job in jobs]
    try:
        done, _ = await asyncio.wait(tasks, return_when=asyncio.FIRST_EXCEPTION)
        for task in done:
            task.result()
    finally:
        await end(tasks, 0.2)


# The client's own log is not for users; what they need is said above.
_LOGGER = logging.getLogger("handtick.broker")
_LOGGER.addHandler(logging.NullHandler())
_LOGGER.propagate = False
