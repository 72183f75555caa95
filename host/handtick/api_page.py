"""The Python API as its reference shows it: every public call of a bench with the first line of its docstring."""

from __future__ import annotations

import inspect

from handtick.bench import Bench


def api_table() -> str:
    """Every public method and property of ``Bench``, as a Markdown table."""
    rows = ["| of a bench | what it does |", "|---|---|"]
    for name, member in vars(Bench).items():
        if name.startswith("_"):
            continue
        call = name
        if inspect.isfunction(member):
            given = [str(parameter) for parameter in inspect.signature(member).parameters.values()][1:]
            call = f"{name}({', '.join(given)})".replace("|", "\\|").replace("'", "")
        words = (inspect.getdoc(member) or "").split("\n\n")[0].replace("\n", " ")
        rows.append(f"| `{call}` | {words} |")
    return "\n".join(rows) + "\n"
