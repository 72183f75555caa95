"""A user's model of the machine: a small class that says what each tick should leave on the buses."""

from __future__ import annotations

import importlib.util
import inspect
import traceback
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from handtick.compare.trace import Row, line_names
from handtick.errors import UsageError
from handtick.wiring import Wiring


class Model:
    """A model made of a user's class.

    Args:
        path: a Python file with one class that has ``reset()`` and ``tick()``. ``tick`` returns what the buses should
            hold after that tick, as a dict of names and numbers; a bus that is left out, or is None, does not matter.
        wiring: the names.

    Raises:
        UsageError: the file can't be read or has no such class.
    """

    def __init__(self, path: Path, wiring: Wiring) -> None:
        self._path = path
        self._wiring = wiring
        self._lines = line_names(wiring)
        self._model = _load(path)
        self._tick = 0

    def reset(self) -> None:
        """The machine is at its start."""
        self._tick = 0
        self._call("reset")

    def tick(self) -> Row:
        """What the next tick should leave on the lines.

        Raises:
            UsageError: the class raises, names a bus that is not there, or gives no number that fits.
        """
        self._tick += 1
        said = self._call("tick")
        if not isinstance(said, Mapping):
            raise UsageError(f"{self._path}: tick() gave {said!r} at tick {self._tick}, and not a dict of numbers")
        bits = care = at = 0
        left = dict(said)
        for bus in self._wiring.shown:
            value = left.pop(bus.name, None)
            if value is not None:
                if not isinstance(value, int) or not 0 <= value < 1 << bus.width:
                    raise UsageError(
                        f"{self._path}: at tick {self._tick} tick() gave {value!r} for {bus.name} of {bus.width} bits"
                    )
                bits |= value << at
                care |= ((1 << bus.width) - 1) << at
            at += bus.width
        if left:
            there = ", ".join(bus.name for bus in self._wiring.shown)
            raise UsageError(f"{self._path}: tick() names {next(iter(left))!r}, which is no bus; there are {there}")
        return Row(self._tick, bits, care)

    def _call(self, name: str) -> Any:
        try:
            return getattr(self._model, name)()
        except Exception as error:  # the user's own code may raise anything
            where = traceback.extract_tb(error.__traceback__)[-1]
            raise UsageError(
                f"{self._path}, line {where.lineno}: {name}() at tick {self._tick}: {type(error).__name__}: {error}"
            ) from error


def _load(path: Path) -> Any:
    if not path.is_file():
        raise UsageError(f"there is no model {str(path)!r}; give the name of a Python file")
    spec = importlib.util.spec_from_file_location("handtick_users_model", path)
    if spec is None or spec.loader is None:
        raise UsageError(f"{path}: a model is a Python file, and its name ends in .py")
    module = importlib.util.module_from_spec(spec)
    try:
        spec.loader.exec_module(module)
    except Exception as error:  # as above
        raise UsageError(f"{path}: can't be loaded: {type(error).__name__}: {error}") from error
    classes = [
        each
        for _, each in inspect.getmembers(module, inspect.isclass)
        if each.__module__ == module.__name__ and all(callable(getattr(each, name, None)) for name in ("reset", "tick"))
    ]
    if len(classes) != 1:
        raise UsageError(f"{path}: it has {len(classes)} classes with reset() and tick(); a model is one such class")
    try:
        return classes[0]()
    except Exception as error:  # as above
        raise UsageError(f"{path}: {classes[0].__name__}() raised {type(error).__name__}: {error}") from error
