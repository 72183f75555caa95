"""Timer chips as clocks: what their parts give, how far that is off, and which parts to take."""

from __future__ import annotations

from handtick.timers.chips import CHIPS, Chip
from handtick.timers.circuit import (
    AstableParts,
    OneShotParts,
    Spread,
    Tolerances,
    choose_astable,
    choose_one_shot,
    duty_spread,
    rate_spread,
    width_spread,
)

__all__ = [
    "CHIPS",
    "AstableParts",
    "Chip",
    "OneShotParts",
    "Spread",
    "Tolerances",
    "choose_astable",
    "choose_one_shot",
    "duty_spread",
    "rate_spread",
    "width_spread",
]
