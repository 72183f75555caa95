"""The page of faults, made from the tests: each test marked ``fault`` says what is tried and what the user sees.

``python -m tests.docs.fault_table docs/faults.md`` writes it.
"""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from pathlib import Path

TESTS = Path(__file__).parents[1]
WHERE = {
    "link": "The cable and the host",
    "board": "The board",
    "machine": "The machine",
    "log": "The log and the disk",
    "person": "The person",
    "class": "A class, and whoever attacks it",
}
_HEAD = """\
# Faults that are tried

Each of these is done to the firmware's own loop and to the real session and log in every run of `make test`, or, for
tests in `tests/emulated/`, to the real CircuitPython on an emulated board. The long forms are `make soak`, `make fuzz`
and `make test-long`. None was tried on a real board. The page is made from the tests.

"""


def faults() -> Iterator[tuple[str, str, str, str]]:
    """(where, what, what the user sees, the test) of every marked test, in the order of the files."""
    for path in sorted(TESTS.rglob("test_*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef):
                for mark in node.decorator_list:
                    if isinstance(mark, ast.Call) and ast.unparse(mark.func) == "pytest.mark.fault":
                        where, what, seen = (ast.literal_eval(each) for each in mark.args)
                        yield where, what, seen, f"{path.relative_to(TESTS.parent).as_posix()}: {node.name}"


def page() -> str:
    """The page.

    Raises:
        KeyError: a mark names a place that is none.
    """
    rows: dict[str, list[str]] = {where: [] for where in WHERE}
    for where, what, seen, test in faults():
        file, _, name = test.partition(": ")
        rows[where].append(f"| {what} | {seen} | `{name}` in `{file}` |\n")
    parts = [
        f"## {title}\n\n| what is done | what the user sees | the test |\n|---|---|---|\n{''.join(rows[where])}\n"
        for where, title in WHERE.items()
    ]
    return _HEAD + "".join(parts).rstrip("\n") + "\n"


if __name__ == "__main__":
    Path(sys.argv[1]).write_text(page(), encoding="utf-8")
