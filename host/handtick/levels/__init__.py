"""Which chip drives which: logic levels from data sheets, and what follows from them."""

from __future__ import annotations

from handtick.levels.families import FAMILIES, Family
from handtick.levels.fit import Fit, fit

__all__ = ["FAMILIES", "Family", "Fit", "fit"]
