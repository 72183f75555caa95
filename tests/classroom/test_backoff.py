"""When a connection is tried again."""

from __future__ import annotations

from handtick.classroom.backoff import LASTING_S, SELDOM_S, SOON_S, Backoff


def test_what_fails_again_and_again_is_tried_more_and_more_seldom() -> None:
    """Twice as long each time, up to a bound."""
    backoff = Backoff()
    waits = [backoff.wait_s(number) for number in range(9)]
    assert waits == [min(SELDOM_S, SOON_S * 2**number) for number in range(9)]
    assert waits[-1] == SELDOM_S


def test_a_connection_that_lasted_is_tried_again_soon() -> None:
    """One that ends at once is not one."""
    backoff = Backoff()
    for _ in range(4):
        backoff.wait_s(0.0)
    backoff.began(100.0)
    assert backoff.wait_s(100.0 + LASTING_S) == SOON_S
    backoff.began(200.0)
    assert backoff.connected
    assert backoff.wait_s(200.1) == 2 * SOON_S
    assert not backoff.connected
