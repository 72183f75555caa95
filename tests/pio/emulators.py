"""The bench on either emulator."""

from __future__ import annotations

from .bench import Bench
from .on_pioemu import PioemuBench
from .on_rp2040py import Rp2040pyBench

BENCHES: dict[str, type[Bench]] = {"pioemu": PioemuBench, "rp2040py": Rp2040pyBench}
