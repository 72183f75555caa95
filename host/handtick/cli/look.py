"""Commands that look and move nothing: ports, status, pins."""

from __future__ import annotations

from handtick.bench import Bench
from handtick.cli.common import Common
from handtick.cli.printer import Printer
from handtick.cli.table import Columns
from handtick.discovery import Found, ask_all
from handtick.errors import UsageError
from handtick.wiring import Bus
from handtick_board import pin_map

_PORTS = Columns(("port", "what is there"), (-20, -1))
_PINS = Columns(("pin", "what it does"), (-6, -1))


def ports(common: Common) -> None:
    """Lists ports."""
    printer = Printer(common.json, common.quiet)
    found = ask_all()
    if not found and not common.json:
        printer.answer("no port here could have a board; serve the built-in one with: handtick virtual")
    elif not common.json:
        printer.answer(_PORTS.heading())
    for each in found:
        greeting = each.greeting
        printer.answer(
            _PORTS.row(each.port, _words(each)),
            kind="port",
            port=each.port,
            what=each.what,
            trouble=each.trouble,
            board=None if greeting is None else greeting.fields,
        )


def status(common: Common) -> None:
    """Says how the board stands."""
    printer = Printer(common.json, common.quiet, rows=False)
    with common.open_bench(printer) as bench:
        fields = bench.status().fields
        values = bench.wiring.values(int(fields["probes"]))
        printer.answer(
            _status_text(bench, fields, values),
            kind="status",
            port=bench.port,
            board=bench.greeting.fields if bench.greeting is not None else {},
            now=fields,
            buses=values if bench.wiring.buses else {},
        )
    printer.close()


def pins(common: Common, profile: str | None) -> None:
    """Lists pins and the names of probes."""
    name = profile or "full"
    if name not in pin_map.PROFILES:
        raise UsageError(f"{name}: there is no such pin profile; there are {', '.join(pin_map.PROFILES)}")
    wiring = common.find_wiring()
    printer = Printer(common.json, common.quiet)
    roles, probes, left_out = pin_map.PROFILES[name]
    if not common.json:
        printer.answer(f"profile {name}, on a Raspberry Pi Pico; it leaves out {left_out}\n{_PINS.heading()}")
    for role, pin in roles.items():
        printer.answer(
            _PINS.row(pin, pin_map.ROLES[role][1]), kind="pin", pin=pin, role=role, what=pin_map.ROLES[role][1]
        )
    for probe, pin in enumerate(probes):
        names = [_bit_name(bus, probe) for bus in wiring.buses if probe in bus.probes]
        text = f"probe {probe}" + (f": {', '.join(names)}" if names else "")
        printer.answer(_PINS.row(pin, text), kind="pin", pin=pin, role="probe", probe=probe, names=names)


def _bit_name(bus: Bus, probe: int) -> str:
    return bus.name if bus.width == 1 else f"{bus.name} bit {bus.probes.index(probe)}"


def _words(found: Found) -> str:
    if found.greeting is not None:
        fields = found.greeting.fields
        return f"handtick board {fields['board']} {fields['uid']}, firmware {fields['firmware']}"
    return f"{found.what}: {found.trouble.partition(': ')[2] or 'does not answer as a handtick board'}"


def _status_text(bench: Bench, now: dict[str, int | str], values: dict[str, int]) -> str:
    """How the board stands, a line a subject."""
    assert bench.greeting is not None
    said = bench.greeting.fields
    shown = "  ".join(f"{bus.name} {bus.text(values[bus.name])}" for bus in bench.wiring.shown)
    chained = f", {now['chained']} of them on a chain" if now["chained"] else ""
    lines = [
        f"board    {said['board']} {said['uid']} at {bench.port}, firmware {said['firmware']}, boot {said['boot']}, "
        f"started by {said['started']}",
        f"clock    {_clock_words(str(now['mode']))} at tick {now['tick']} of reset {now['reset']}, edge count "
        f"{now['edges']}; rest level {said['rest']}",
        f"rate     {now['rate']} Hz; the {said['engine']} engine goes up to {said['top_rate']} Hz",
        f"lines    halt line {now['halt_line']}; {shown}",
        f"probes   {said['probes']}{chained}",
        f"button   longest bounce {now['longest_bounce_us']} us, longest gap in a press {now['longest_gap_us']} us; "
        f"{now['spikes']} spikes too short to be a press",
        f"supply   {_supply_words(str(now['supply_mv']))}",
        f"records  {now['waiting']} of {said['ring']} wait on the board; {now['lost']} lost",
        f"memory   {_memory_words(int(now['heap_free']))}",
        f"wiring   {bench.wiring.path or 'no wiring file: the bare probes are shown'}",
    ]
    return "\n".join(lines)


def _memory_words(heap_free: int) -> str:
    return f"{heap_free} bytes free on the board" if heap_free else "not scarce on this board"


def _supply_words(millivolts: str) -> str:
    return f"{int(millivolts) / 1000:.2f} V" if millivolts.isdecimal() else "not sensed"


def _clock_words(mode: str) -> str:
    return {"rest": "rests", "held": "held half a tick on", "reset": "is being reset"}.get(mode, mode)
