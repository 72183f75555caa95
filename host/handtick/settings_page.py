"""The board's settings as people see them: the file on the board's drive and the table in the reference."""

from __future__ import annotations

from handtick_board import choices, light, pin_map
from handtick_board.settings import Settings
from handtick_wire.messages import write_rate

_HEAD = """\
# handtick: the board's settings. Take away the "#" in front of a line to change it, then restart the board.
# A value that does not fit is refused by name in the greeting (see `handtick status`), and the default is used.
# CircuitPython reads strings in double quotes and whole numbers from this file, and nothing else.
"""


def settings_toml() -> str:
    """The text of ``firmware/settings.toml``: every setting with its default, commented out."""
    parts = [_HEAD]
    for name, attribute, form, span, meaning in choices.TABLE:
        parts.append(
            f"\n# {meaning[0].upper()}{meaning[1:]}: {_range(form, span)}.\n# {name} = {_default(attribute)}\n"
        )
    parts.append(
        '\n# With HANDTICK_PROFILE = "own", pins by the names the board gives them, each only if it is there:\n'
    )
    parts += [f'# HANDTICK_PIN_{role.upper()} = ""  # {meaning}\n' for role, (_, meaning) in pin_map.ROLES.items()]
    parts.append('# HANDTICK_PIN_PROBES = ""  # up to 16 pins with spaces between, probe 0 first\n')
    return "".join(parts)


def settings_table() -> str:
    """The settings as a Markdown table."""
    rows = ["| setting | default | takes | what it is for |", "|---|---|---|---|"]
    for name, attribute, form, span, meaning in choices.TABLE:
        rows.append(f"| `{name}` | `{_default(attribute)}` | {_range(form, span)} | {meaning} |")
    return "\n".join(rows) + "\n"


def pin_table() -> str:
    """Every profile of the pin map as a Markdown table: role by role, pin by pin."""
    names = list(pin_map.PROFILES)
    rows = [
        "| what | direction | " + " | ".join(f'"{name}"' for name in names) + " |",
        "|---|---|" + "---|" * len(names),
    ]
    for place in range(pin_map.MOST_PROBES):
        pins = [probes[place] if place < len(probes) else "-" for _, probes, _ in pin_map.PROFILES.values()]
        rows.append(f"| probe {place} | in | " + " | ".join(pins) + " |")
    for role, (direction, meaning) in pin_map.ROLES.items():
        pins = [roles.get(role, "-") for roles, _, _ in pin_map.PROFILES.values()]
        rows.append(f"| {meaning} | {direction} | " + " | ".join(pins) + " |")
    left_out = " | ".join(missing for _, _, missing in pin_map.PROFILES.values())
    rows.append(f"| left out | | {left_out} |")
    return "\n".join(rows) + "\n"


def light_table() -> str:
    """What the board's light says, as a Markdown table."""
    rows = ["| mode | the light |", "|---|---|"]
    rows += [f"| {mode} | {words} |" for mode, (_, words) in light.STRIPS.items()]
    rows.append(f"| rest | {light.TROUBLE[1]} |")
    return "\n".join(rows) + "\n"


def _default(attribute: str) -> str:
    value = getattr(Settings(), attribute)
    for _, name, form, span, _ in choices.TABLE:
        if name == attribute and form == choices.CHOICE:
            word = span[1 if value else 0] if isinstance(value, bool) else value
            return f'"{word}"'
    if attribute.endswith("_mhz"):
        return f'"{write_rate(value)}"'
    return str(value)


def _range(form: str, span: tuple[object, ...]) -> str:
    if form == choices.CHOICE:
        return "one of " + ", ".join(f'"{word}"' for word in span)
    if form == choices.RATE:
        least, most = span
        assert isinstance(least, int)
        assert isinstance(most, int)
        return f'a rate in quotes, "{write_rate(least)}" to "{write_rate(most)}"'
    return f"{span[0]} to {span[1]}"
