"""The wiring file: what the probes are called, how their values are shown, and where an instruction begins."""

from handtick.wiring.load import load_wiring
from handtick.wiring.model import Bus, Instruction, Start, Wiring

__all__ = ["Bus", "Instruction", "Start", "Wiring", "load_wiring"]
