"""Getting in at a real broker: users, passwords, rules of who may read what, and TLS."""

from __future__ import annotations

import json
import re
import shutil
import signal
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from handtick.classroom.broker import trust
from handtick.classroom.broker_address import PASSWORD_VARIABLE, BrokerAddress
from handtick.errors import UsageError
from tests.classroom.a_class import AClass, wait_until
from tests.classroom.mosquitto import Mosquitto
from tests.classroom.raw_mqtt import RefusingBroker
from tests.classroom.remote_room import PREFIX, RemoteRoom
from tests.host.test_cli import ROOT, Desk

USERS = {"desk": "d3sk", "Ada": "4da", "Eve": "3ve"}


@pytest.fixture
def guarded(tmp_path: Path) -> Iterator[Mosquitto]:
    """A broker with a user for the class and for two rooms, and the rules that the how-to shows."""
    passwords = tmp_path / "passwords"
    passwords.touch()
    tool = shutil.which("mosquitto_passwd")
    if tool is None:
        pytest.skip("mosquitto is not installed; on Debian: apt install mosquitto")
    for user, password in USERS.items():
        subprocess.run([tool, "-b", str(passwords), user, password], check=True, capture_output=True)
    page = (ROOT / "docs" / "how-to" / "share.md").read_text(encoding="utf-8")
    rules = re.search(r"<!-- mosquitto's rules.*?```text\n(.*?)```", page, re.DOTALL)
    assert rules is not None
    (tmp_path / "rules").write_text(rules[1].replace("handtick/", f"{PREFIX}/"), encoding="utf-8")
    lines = ["allow_anonymous false", f"password_file {passwords}", f"acl_file {tmp_path / 'rules'}"]
    with Mosquitto(tmp_path, lines) as broker:
        yield broker


def test_rooms_with_the_rules_of_the_how_to_read_their_own_answers_only(guarded: Mosquitto, tmp_path: Path) -> None:
    """One joins, drives and is answered; another hears nothing of it and can't pretend."""
    with AClass(tmp_path, broker=guarded.address("desk", USERS["desk"])) as a_class:
        teacher = a_class.teacher()
        with RemoteRoom(guarded.port, "Ada", USERS["Ada"]) as ada, RemoteRoom(guarded.port, "Eve", USERS["Eve"]) as eve:
            ada.arrive()
            eve.arrive()
            eve.client.subscribe("#", qos=1)
            eve.until(lambda: eve.granted == 2)
            ada.join(a_class.word)
            ada.ask("wait")
            teacher.hear(lambda: bool(teacher.told.get("room", {}).get("waiting")))
            teacher.ask(do="next")
            teacher.hear(lambda: teacher.told["room"]["holder_name"] == "Ada")
            assert ada.ask("step")["done"] == "step"
            eve.client.publish(f"{PREFIX}/clock", json.dumps({"tick": 999}), qos=1, retain=True)
            eve.client.publish(f"{PREFIX}/ticks", json.dumps({"new": []}), qos=1)
            assert eve.ask("step")["refused"]
            eve.until(lambda: eve.standing["clock"]["tick"] == 1)
            assert not [topic for topic, _ in eve.all if topic.startswith("ask/") or "Ada" in topic]
            assert not [said for topic, said in [*eve.all, *ada.all] if topic == "clock" and said["tick"] == 999]
            assert a_class.edges == 1
        teacher.close()


def test_a_wrong_password_is_one_line_and_the_class_goes_on(guarded: Mosquitto, tmp_path: Path) -> None:
    """However often it is tried; and when the broker takes it, the class is there."""
    with AClass(tmp_path, broker=guarded.address("desk", "wrong")) as a_class:
        wait_until(lambda: bool(a_class.told))
        teacher = a_class.teacher()
        for number in (1, 2, 3):
            teacher.ask(do="step")
            teacher.hear(lambda made=number: teacher.tick() == made)
        subprocess.run(
            [shutil.which("mosquitto_passwd") or "", "-b", str(tmp_path / "passwords"), "desk", "wrong"], check=True
        )
        assert guarded.process is not None
        guarded.process.send_signal(signal.SIGHUP)
        wait_until(lambda: len(a_class.told) > 1)
        assert a_class.told == [
            f"broker 127.0.0.1:{guarded.port}: it does not take this user and password; "
            "the class goes on without it, and it is tried again",
            f"broker 127.0.0.1:{guarded.port}: the class is there, under {PREFIX}/",
        ]
        teacher.close()


def share_at(broker: Mosquitto, folder: Path) -> subprocess.Popen[str]:
    """Types the command, with the password in its environment."""
    desk = Desk(folder, "")
    desk.env[PASSWORD_VARIABLE] = USERS["desk"]
    address = f"mqtt://desk@127.0.0.1:{broker.port}/{PREFIX}"
    return desk.start("share", "--board", "virtual", "--port", "0", "--broker", address)


def test_the_command_takes_the_password_from_the_environment(guarded: Mosquitto, tmp_path: Path) -> None:
    """It says that the class is there, without the password; after Ctrl-C nothing of the class is at the broker."""
    shared = share_at(guarded, tmp_path)
    with RemoteRoom(guarded.port, "Ada", USERS["Ada"]) as ada:
        ada.arrive()
        shared.send_signal(signal.SIGINT)
        _, said = shared.communicate(timeout=20)
        assert shared.returncode == 0, said
        assert f"broker 127.0.0.1:{guarded.port}: the class is there, under {PREFIX}/" in said
        assert USERS["desk"] not in said
        ada.until(lambda: ada.here == {"here": False} and ada.standing == {})


def test_a_killed_program_is_gone_for_everybody(guarded: Mosquitto, tmp_path: Path) -> None:
    """The broker says so itself."""
    shared = share_at(guarded, tmp_path)
    with RemoteRoom(guarded.port, "Ada", USERS["Ada"]) as ada:
        ada.arrive()
        shared.kill()
        shared.communicate(timeout=20)
        ada.until(lambda: ada.here == {"here": False})


@pytest.fixture
def certificates(tmp_path: Path) -> Path:
    """A folder with an authority of its own, and a certificate of it for this machine."""
    if shutil.which("openssl") is None:
        pytest.skip("openssl is not installed; on Debian: apt install openssl")
    for command in (
        "req -x509 -newkey rsa:2048 -nodes -keyout ca.key -out ca.pem -days 2 -subj /CN=Larch",
        "req -newkey rsa:2048 -nodes -keyout own.key -out own.csr -subj /CN=127.0.0.1",
        "x509 -req -in own.csr -CA ca.pem -CAkey ca.key -CAcreateserial -out own.pem -days 2 -extfile names",
    ):
        (tmp_path / "names").write_text("subjectAltName=IP:127.0.0.1\n", encoding="utf-8")
        subprocess.run(["openssl", *command.split()], cwd=tmp_path, check=True, capture_output=True)
    return tmp_path


# The client library leaves a socket that did not trust its peer to Python to close.
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
def test_under_tls_the_broker_must_prove_who_it_is(certificates: Path, tmp_path: Path) -> None:
    """By the file of certificates; a broker that the system does not trust is not spoken to."""
    lines = ["allow_anonymous true", f"certfile {certificates / 'own.pem'}", f"keyfile {certificates / 'own.key'}"]
    with Mosquitto(tmp_path, lines, tls=True) as broker:
        (tmp_path / "one").mkdir()
        with AClass(tmp_path / "one", broker=broker.address(), ca=str(certificates / "ca.pem")) as a_class:
            wait_until(lambda: bool(a_class.told))
            assert "the class is there" in a_class.told[0]
        (tmp_path / "other").mkdir()
        with AClass(tmp_path / "other", broker=broker.address()) as a_class:
            wait_until(lambda: bool(a_class.told))
            assert "not reached" in a_class.told[0]
            assert "certificate verify failed" in a_class.told[0]


def test_certificates_are_for_tls_alone(certificates: Path, tmp_path: Path) -> None:
    """What would not be heeded is refused, and so is what is no certificate."""
    ca = str(certificates / "ca.pem")
    plain = Mosquitto(tmp_path)
    secured = Mosquitto(tmp_path, tls=True)
    with pytest.raises(UsageError, match="mqtts://"):
        trust(plain.address(), ca)
    with pytest.raises(UsageError, match="PEM"):
        trust(secured.address(), str(certificates / "own.key"))
    assert trust(secured.address(), ca) is not None
    assert trust(plain.address(), None) is None


def test_a_user_who_may_not_read_is_told_so(tmp_path: Path) -> None:
    """Let in, and then not let subscribe: that is another line."""
    with (
        RefusingBroker() as broker,
        AClass(tmp_path, broker=BrokerAddress("127.0.0.1", broker.port, prefix=PREFIX)) as a_class,
    ):
        wait_until(lambda: bool(a_class.told))
        assert "it does not let this user read school/larch/ask/#; the class goes on" in a_class.told[0]
