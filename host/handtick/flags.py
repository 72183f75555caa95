"""What a tick's flags say in words."""

from __future__ import annotations

from handtick_wire import messages

_WORDS = {
    messages.FLAG_IN_RESET: "in reset",
    messages.FLAG_DISAGREED: "probes disagreed",
    messages.FLAG_UNSETTLED: "unsettled",
    messages.FLAG_HALT_IGNORED: "halt ignored",
}


def flag_words(flags: int) -> list[str]:
    """The words of the flags of a tick; none for an ordinary one."""
    return [word for bit, word in _WORDS.items() if flags & bit]
