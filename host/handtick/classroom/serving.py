"""Runs the server until it is interrupted."""

from __future__ import annotations

import asyncio
import socket
from typing import Any

import uvicorn

from handtick.classroom.asked import LONGEST_MESSAGE

#: Seconds between two questions whether a page is still there, and for its answer.
PING_S = 5.0


def serve(app: Any, listener: socket.socket, waits_on_files: bool = False) -> None:
    """Serves an application on a socket that is bound, until Ctrl-C.

    Args:
        app: the application.
        listener: the socket.
        waits_on_files: whether the application waits for file descriptors to be ready, which the usual event loop of
            Windows can't.
    """
    server = uvicorn.Server(configured(app))
    if not waits_on_files:
        server.run(sockets=[listener])
        return
    with asyncio.Runner(loop_factory=asyncio.SelectorEventLoop) as runner:
        runner.run(server.serve(sockets=[listener]))


def configured(app: Any) -> uvicorn.Config:
    """How it is served: nothing is written about who asks for what, and nothing large is taken in."""
    return uvicorn.Config(
        app,
        ws="websockets-sansio",
        ws_max_size=LONGEST_MESSAGE,
        ws_per_message_deflate=False,
        ws_ping_interval=PING_S,
        ws_ping_timeout=PING_S,
        log_config=None,
        access_log=False,
        server_header=False,
        proxy_headers=False,
        timeout_graceful_shutdown=2,
    )
