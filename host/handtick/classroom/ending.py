"""Ends tasks for certain: one that loses a cancellation is cancelled again."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from typing import Any


async def end(tasks: Sequence[asyncio.Task[Any]], again_s: float) -> None:
    """Cancels tasks and returns once all of them have ended, however they did.

    Before Python 3.12 ``asyncio.wait_for`` can lose a cancellation that comes at the moment of its result, and what
    goes on then would go on for ever.

    Args:
        tasks: the tasks.
        again_s: seconds after which one that has not ended is cancelled again.
    """
    while pending := [task for task in tasks if not task.done()]:
        for task in pending:
            task.cancel()
        await asyncio.wait(pending, timeout=again_s)
    await asyncio.gather(*tasks, return_exceptions=True)
