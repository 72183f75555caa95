"""What goes on beside a class ends with it, whatever it is at."""

from __future__ import annotations

import asyncio
import contextlib

from handtick.classroom.ending import end


def test_a_task_that_loses_a_cancellation_ends_all_the_same() -> None:
    """As one may that waits for something with a time limit, before Python 3.12."""
    ended: list[str] = []

    async def forgetful() -> None:
        with contextlib.suppress(asyncio.CancelledError):
            await asyncio.sleep(60)
        try:
            await asyncio.sleep(60)
        finally:
            ended.append("forgetful")

    async def failing() -> None:
        try:
            await asyncio.sleep(60)
        finally:
            raise OSError

    async def all_of_it() -> None:
        tasks = [asyncio.create_task(forgetful()), asyncio.create_task(failing())]
        await asyncio.sleep(0)
        await end(tasks, 0.01)
        assert all(task.done() for task in tasks)

    asyncio.run(asyncio.wait_for(all_of_it(), 10))
    assert ended == ["forgetful"]
