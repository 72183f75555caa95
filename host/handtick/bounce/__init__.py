"""How a button bounces: recordings, what three rules make of them, and which times suit it."""

from __future__ import annotations

from handtick.bounce.analysis import Advice, Press, advise, presses_of
from handtick.bounce.rules import judge
from handtick.bounce.train import Span, Train, read_train, write_train

__all__ = ["Advice", "Press", "Span", "Train", "advise", "judge", "presses_of", "read_train", "write_train"]
