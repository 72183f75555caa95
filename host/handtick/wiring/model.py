"""What a wiring file says, in memory: pure, and read by everything that shows or judges samples."""

import functools
from collections.abc import Callable, Mapping
from typing import NamedTuple

#: How a bus may be shown.
SHOWS = ("hex", "binary", "decimal", "names")

#: Of how many states of the machine what is worked out is kept: enough for the loop it is in.
STATES = 1024


class Bus(NamedTuple):
    """A named group of probes read as a number, or one named line.

    Attributes:
        name: what it is called.
        probes: probe numbers from 0, the one for bit 0 first; those from 16 on are on a chain.
        show: one of ``SHOWS``.
        inverted: whether a low probe is a one.
        names: values with names; any other value is shown as a number.
        fields: named parts of the value as (lowest bit, how many bits).
        steady: the phase in which it must not move, "high" or "low"; empty where it may in either.
        drivers: lines that, while 1, let something drive it; two of them at once are a fault.
    """

    name: str
    probes: tuple[int, ...]
    show: str = "hex"
    inverted: bool = False
    names: Mapping[int, str] = {}
    fields: Mapping[str, tuple[int, int]] = {}
    steady: str = ""
    drivers: tuple[str, ...] = ()

    @property
    def width(self) -> int:
        """Bits."""
        return len(self.probes)

    def value(self, sample: int) -> int:
        """The number on it in a sample."""
        value = 0
        for bit, probe in enumerate(self.probes):
            value |= (sample >> probe & 1) << bit
        return value ^ ((1 << self.width) - 1) if self.inverted else value

    def text(self, value: int) -> str:
        """A value as it is to be shown."""
        if self.show == "names" and value in self.names:
            return self.names[value]
        if self.show == "binary":
            return f"{value:0{self.width}b}"
        if self.show == "decimal" or (self.width == 1 and self.show != "names"):
            return str(value)
        return f"{value:0{-(-self.width // 4)}X}"

    @property
    def widest(self) -> int:
        """Letters of the longest text it can be shown as."""
        number = len(self.text((1 << self.width) - 1)) if self.show != "names" else -(-self.width // 4)
        return max([number, *(len(name) for name in self.names.values())]) if self.show == "names" else number

    def field_values(self, value: int) -> dict[str, int]:
        """The named parts of a value."""
        return {name: value >> low & ((1 << bits) - 1) for name, (low, bits) in self.fields.items()}


class Instruction(NamedTuple):
    """Where an instruction begins, and which one it is.

    Attributes:
        start: the bus or line that tells.
        equals: its value in the early sample of a tick that begins an instruction.
        address: the bus that holds the instruction's address then; empty for none.
        listing: address to the instruction in words.
        longest: ticks after which it is given up to look for a beginning.
    """

    start: str
    equals: int = 1
    address: str = ""
    listing: Mapping[int, str] = {}
    longest: int = 1000


class Start(NamedTuple):
    """What brings the machine back to the same start, besides its reset line.

    Attributes:
        hand: what the user has to do by hand each time; empty for nothing.
        command: a command of the user's to run each time; empty for none.
        check: a command of the user's whose output must be the same each time; empty for none.
        same: how many of the first ticks must be the same each time.
    """

    hand: str = ""
    command: tuple[str, ...] = ()
    check: tuple[str, ...] = ()
    same: int = 4


class Clock(NamedTuple):
    """What the machine's clock may not do.

    Attributes:
        may_stop: at which levels it may stop: "yes" at both, "low", "high", or "no".
        longest_high_us, longest_low_us: the longest phases it bears, in microseconds; 0 for no limit.
        ready: level of its ready line with which it goes on, "high" or "low"; empty where it has none.
        ready_ignored: the line that says when it goes on whatever the ready line says; empty where it never does.
        ready_ignored_at: the value of that line then.
    """

    may_stop: str = "yes"
    longest_high_us: int = 0
    longest_low_us: int = 0
    ready: str = ""
    ready_ignored: str = ""
    ready_ignored_at: int = 1


class Wiring(NamedTuple):
    """All of a wiring file. Without buses the bare probes are shown, as one.

    Attributes:
        buses: in the order of the file.
        instruction: where an instruction begins; None where the file does not say.
        path: the file; empty where there is none.
        start: the reset recipe.
        clock: what the machine's clock may not do; None where the file does not say.
    """

    buses: tuple[Bus, ...] = ()
    instruction: Instruction | None = None
    path: str = ""
    start: Start = Start()
    clock: Clock | None = None

    @property
    def shown(self) -> tuple[Bus, ...]:
        """The buses to show: those of the file, or all probes as one."""
        return self.buses or (Bus("probes", tuple(range(16))),)

    def bus(self, name: str) -> Bus:
        """The bus of a name.

        Raises:
            KeyError: there is none.
        """
        for bus in self.buses:
            if bus.name == name:
                return bus
        raise KeyError(name)

    def values(self, sample: int) -> dict[str, int]:
        """Every bus's value in a sample, by name."""
        return {bus.name: bus.value(sample) for bus in self.shown}

    def reader(self) -> Callable[[int], tuple[int, ...]]:
        """Gives what reads the values of all buses to show from a sample, in order, for many samples.

        A machine has few states beside its many ticks: what a sample holds is worked out once.
        """
        return functools.lru_cache(STATES)(lambda sample: tuple(bus.value(sample) for bus in self.shown))

    def begins_instruction(self, early: int) -> bool:
        """Whether a tick with this early sample is the first of an instruction."""
        rule = self.instruction
        return rule is not None and self.bus(rule.start).value(early) == rule.equals

    def instruction_words(self, early: int) -> str:
        """The instruction that begins with this early sample, in words; empty where the file does not say."""
        rule = self.instruction
        if rule is None or not rule.address or not self.begins_instruction(early):
            return ""
        return rule.listing.get(self.bus(rule.address).value(early), "")
