"""The wire and the conductor as people read them: tables and a diagram for the reference, made from the code's own."""

from __future__ import annotations

from handtick_board import stop_rule, transitions
from handtick_wire import messages, reasons
from handtick_wire.described import SENTENCES

#: What each command does, for the reference.
COMMAND_MEANINGS = {
    "who": "asks who is here, and nothing else; answered with `hello`, greeted or not",
    "hello": "greets; `nonce` is a number no other conversation has. Answered with `hello`, then `done`",
    "status": "asks for a `status` report",
    "step": "makes `count` ticks of fixed width",
    "half": "makes the next edge alone; answered once the line has changed",
    "run": "runs at a rate until halted; answered as soon as it has begun. While running, it changes the rate",
    "burst": "makes `count` ticks at a rate; answered when the last one is made",
    "to": "runs at a rate until the tick number is `tick`",
    "halt": "comes to rest at the next tick boundary; answered at rest",
    "rate": "sets the rate, of the run under way and of runs to come",
    "duty": "sets the percent of the period that the line is high, 1 to 99, of ticks asked for until the host goes",
    "samples": "of which ticks of runs to come samples: `all`, the `last` ones, or `auto` (as the engine may)",
    "limits": "where the machine's clock may stop, and its longest phases in microseconds; 0: no limit",
    "ignore_halt": "goes past the halt line for the next `count` ticks; those at which it is asserted are marked",
    "trigger": "for which tick of what is asked for next the trigger output stands high; 0 for none. Only at rest",
    "ready_line": "what the ready line is like: the level at which the machine goes on, and the probe (16: none) and "
    "level of the line with which it goes on whatever the ready line says",
    "ready_hold": "holds the machine by its ready line before its clock begins to run; only at rest",
    "ready_step": "lets a machine whose clock runs be ready for `count` cycles, one at a time; it is held from then on",
    "ready_go": "makes a machine that was held ready for good",
    "reset": "resets the machine; answered when the reset line is released and the tick number is zero",
    "stop_when": "sets the [stop rule](stop-rules.md#on-the-wire) for all ticks asked for from now on; `none` for none",
    "pull": "pulls every probe `up`, `down`, not at all (`none`), or as `set`, until the host is gone; only at rest",
    "contact": "`on` or `off`: whether every edge of the tick button is told; while it is on, presses make no ticks",
    "typing": "`on` or `off`: whether lines without a check are taken",
    "bye": "ends the conversation; the next program must greet. Answered after everything that was told before it",
}

#: What each report tells.
REPORT_MEANINGS = {
    "hello": "who the board is and where its counts stand",
    "tick": "one whole tick. The only report whose fields have no names: there are so many of them",
    "block": "the ticks of a burst; `check` is that of the bytes that follow its line: early and late sample of each",
    "half": "what the probes hold after half a tick; `phase` is `lead` away from the rest level, `trail` back at it",
    "cycle": "a machine was let go for one cycle by the ready line: the probes before and after it, how many cycles it "
    "`passed` after it although it was not ready, and the last `tick` accounted for",
    "state": "the clock began, stopped or changed: its mode, why, what was asked for, and the rate it gives (0: none)",
    "reset": "the machine was reset: the new reset number, and the last tick and the edge count before it",
    "gap": "ticks that were made and whose records had no room",
    "lost": "ticks that were made and whose very numbers are lost: how many",
    "trouble": "a setting or pin the board refused at its start; spaces in `why` are written as `-`",
    "notice": "something noticed that moves nothing",
    "contact": "the tick button's contact closed (1) or opened (0); the first says where it stands",
    "status": "how the board stands now. `supply_mv`: `none` where it is not sensed; `heap_free`: 0 where not scarce; "
    "`counted`: edges at the far end of the clock wire, `none` without a counter, `moving` with the clock; `tug`: "
    "`there` or `none`; `chained`: how many probes, the last ones, are on a chain of shift registers; `high_ns`: the "
    "high phase that the clock engine makes at this rate, in nanoseconds",
    "done": "the answer to a command that was carried out",
    "refused": "the answer to a command that was not: nothing was done",
    "failed": "the answer to a command that was begun and could not be ended as asked",
}


def command_table() -> str:
    """Every command with its fields, as a Markdown table."""
    rows = ["| command | what it does |", "|---|---|"]
    for kind, fields in messages.COMMANDS.items():
        shape = " ".join([kind, *(f"<{name}>" for name, _ in fields)])
        rows.append(f"| `{shape}` | {COMMAND_MEANINGS[kind]} |")
    return "\n".join(rows) + "\n"


def report_tables() -> str:
    """Every report with its fields and their forms, as a Markdown table."""
    rows = ["| report | fields | what it tells |", "|---|---|---|"]
    for kind, fields in messages.REPORTS.items():
        shape = ", ".join(f"`{name}` {form}" for name, form in fields)
        rows.append(f"| `{kind}` | {shape} | {REPORT_MEANINGS[kind]} |")
    return "\n".join(rows) + "\n"


def stop_rule_words() -> str:
    """The board's words for a stop rule, as its module has them."""
    text = stop_rule.__doc__ or ""
    lines = [line.strip() for line in text[text.index("    N3") :].splitlines()]
    return "\n".join(["```text", *lines]).rstrip() + "\n```\n"


def reason_table() -> str:
    """Every word that says why, with its sentence, as a Markdown table."""
    rows = ["| word | means |", "|---|---|"]
    rows += [f"| `{word}` | {SENTENCES[word]} |" for word in sorted(reason_words())]
    return "\n".join(rows) + "\n"


def reason_words() -> list[str]:
    """Every word in ``handtick_wire.reasons``."""
    return [word for name, word in vars(reasons).items() if name.isupper()]


def conductor_table() -> str:
    """What the conductor does with each event in each mode, as a Markdown table; "-" cannot come about."""
    events = list(dict.fromkeys(event for _, event in transitions.TRANSITIONS))
    rows = ["| event | " + " | ".join(transitions.MODES) + " |", "|---|" + "---|" * len(transitions.MODES)]
    for event in events:
        rows.append(f"| {event} | " + " | ".join(_cell(mode, event) for mode in transitions.MODES) + " |")
    return "\n".join(rows) + "\n"


def conductor_diagram() -> str:
    """The changes of mode as a Mermaid state diagram; what leaves the mode as it is, is in the table only."""
    arrows: dict[tuple[str, str], list[str]] = {}
    for (mode, event), (_, after) in transitions.TRANSITIONS.items():
        if mode != after:
            arrows.setdefault((mode, after), []).append(event)
    lines = ["```mermaid", "stateDiagram-v2", f"    [*] --> {transitions.REST}"]
    lines += [f"    {mode} --> {after}: {', '.join(events)}" for (mode, after), events in arrows.items()]
    return "\n".join([*lines, "```"]) + "\n"


def _cell(mode: str, event: str) -> str:
    row = transitions.TRANSITIONS.get((mode, event))
    if row is None:
        return "-"
    action, after = row[0].replace("_", " "), row[1]
    return action if after == mode else f"{action} → **{after}**"
