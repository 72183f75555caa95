"""How a bench stands, as whoever draws it finds it."""

from __future__ import annotations

from handtick.events import State
from handtick.live.state import LiveState
from handtick.wiring import Wiring


class Looking(LiveState):
    """A state that another thread looks at in the middle of a change, as a panel may."""

    def __setattr__(self, name: str, value: object) -> None:
        if name in ("tick", "lost", "message") and hasattr(self, name):
            self.changed = False
        super().__setattr__(name, value)


def test_a_look_in_the_middle_of_a_change_is_not_the_last() -> None:
    """Whoever looks while something changes finds it changed once more afterwards."""
    state = Looking(Wiring())
    state.take(State(1, 0, 7, 7, "rest", "count", "step:7", 0))
    assert state.changed
    state.lose("the board is gone")
    assert state.changed
    state.say("noted at tick 7")
    assert state.changed
