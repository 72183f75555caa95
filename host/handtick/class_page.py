"""What people may ask of a shared clock, as its reference shows it; and the bounds that are kept."""

from __future__ import annotations

from collections.abc import Mapping

from handtick.classroom import asked, backoff, calls, crank, guard, guests, meter, people, server, topics, words
from handtick.classroom.asked import DEEDS, JOINING
from handtick.classroom.room import PUPILS_RATE

_TYPES = {str: "text", int: "whole number", bool: "true or false"}


def deed_table() -> str:
    """Every message a page may send, with who may, as a Markdown table."""
    rows = ["| `do` | fields | who | what |", "|---|---|---|---|"]
    for name, fields in JOINING.items():
        rows.append(f"| `{name}` | {_fields(fields)} | whoever comes | {_JOINING[name]} |")
    for name, deed in DEEDS.items():
        rows.append(f"| `{name}` | {_fields(deed.fields)} | {deed.who} | {deed.what} |")
    return "\n".join(rows) + "\n"


def topic_table() -> str:
    """Every topic of a class at a broker, as a Markdown table."""
    rows = ["| topic | retained | what |", "|---|---|---|"]
    for topic in topics.TOPICS.values():
        rows.append(f"| `{topic.behind}` | {'yes' if topic.retained else 'no'} | {topic.what} |")
    return "\n".join(rows) + "\n"


def bound_table() -> str:
    """Every bound of a shared clock, as a Markdown table."""
    bounds = {
        "a message": f"at most {asked.LONGEST_MESSAGE} bytes",
        "messages of one person": f"{meter.AT_ONCE} at once, and {meter.A_SECOND:g} a second after that",
        "notes of one person": f"{meter.NOTES_AT_ONCE} at once, and {meter.NOTES_A_SECOND:g} a second after that",
        "bytes on one connection": f"{guard.BYTES_AT_ONCE} at once, and {guard.BYTES_A_SECOND:g} a second after that",
        "connections of one address that have not joined": f"{guard.MOST_STRANGERS}",
        "a connection that does not become a socket": f"cut off after {guard.PAGE_S:g} s",
        "a socket on which nobody says who they are": f"closed after {server.JOIN_S:g} s",
        "a page that does not take what is sent to it": f"closed after {server.SEND_S:g} s, "
        f"or where more than {server.MOST_WAITING} letters of answers wait",
        "a name": f"at most {asked.LONGEST['name']} letters",
        "a note": f"at most {asked.LONGEST['text']} letters",
        "the room word": f"{words.ROOM_BITS} bits by chance, new at each start",
        "the teacher's secret, and each seat": f"{words.SECRET_BITS} bits by chance, new at each start",
        "wrong words": f"{words.TRIES_A_MINUTE} a minute from one address",
        "people": f"{people.MOST_HERE} at once, and {people.MOST_KNOWN} remembered",
        "the row for the crank": f"{crank.MOST_WAITING} people",
        "the crank of somebody who is gone": f"comes back after {crank.GONE_S:g} s, or as `--gone` says",
        "the rate of others than the teacher": f"{PUPILS_RATE} Hz, until the teacher allows another",
        "calls kept": f"the latest {calls.MOST_CALLS}",
        "answered calls shown again": f"the latest {calls.MOST_ANSWERS}",
        "messages to a broker": f"{1 / topics.EVERY_S:g} a second, answers apart",
        "state at a broker": f"told every {topics.STANDING_S:g} s while it changes, kept for {topics.KEPT_S} s",
        "ticks and answers at a broker": f"delivered within {topics.STALE_S} s or not at all",
        "people who joined over a broker": f"{guests.MOST_GUESTS}",
        "silence of one of them": f"{guests.SILENT_S:g} s, then they are taken for gone",
        "wrong words over a broker": f"{words.TRIES_A_MINUTE} a minute from all together",
        "messages over a broker without a right seat": f"{guests.STRANGERS_AT_ONCE} at once, and "
        f"{guests.STRANGERS_A_SECOND:g} a second after that; more are not read",
        "tries to reach a broker": f"after {backoff.SOON_S:g} s, then more seldom, up to every {backoff.SELDOM_S:g} s",
    }
    return (
        "\n".join(["| what | bound |", "|---|---|", *(f"| {what} | {bound} |" for what, bound in bounds.items())])
        + "\n"
    )


def _fields(fields: Mapping[str, type]) -> str:
    return ", ".join(f"`{name}` ({_TYPES[kind]})" for name, kind in fields.items()) or "-"


_JOINING = {
    "join": "come in with the room word",
    "teach": "come in with the teacher's secret",
    "watch": "come in as a screen that only watches, with the room word",
    "sit": "come back to one's seat",
}
