"""The wiring file: what the probes are called, how their values are shown, and where an instruction begins."""

from handtick.wiring.load import load_wiring
from handtick.wiring.model import Bus, Instruction, Wiring

__all__ = ["Bus", "Instruction", "Wiring", "load_wiring"]
