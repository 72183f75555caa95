"""Stop rules: conditions on buses, lines and the tick number, judged tick by tick."""

from handtick.rules.board_form import board_form
from handtick.rules.judge import Judge
from handtick.rules.model import Rule
from handtick.rules.read import read_rule

__all__ = ["Judge", "Rule", "board_form", "read_rule"]
