"""The picture of the page on bounce."""

from __future__ import annotations

from handtick.bounce.analysis import presses_of
from handtick.bounce.published import make_train, pattern_named
from handtick.bounce.rules import judge
from handtick.bounce.svg import presses_svg
from handtick.virtual.hand import PATTERN


def bounce_svg() -> str:
    """Twelve presses of the virtual bench's button, as ``handtick bounce --presses 12`` records them there."""
    train = make_train(pattern_named(PATTERN), 12, seed=1)
    return presses_svg(presses_of(train), judge(train))
