"""Runs the server until it is interrupted."""

from __future__ import annotations

import socket
from typing import Any

import uvicorn

from handtick.classroom.asked import LONGEST_MESSAGE
from handtick.classroom.guard import PageGuard, SocketGuard

#: Seconds between two questions whether a page is still there, and for its answer.
PING_S = 5.0


def serve(app: Any, listener: socket.socket) -> None:
    """Serves an application on a socket that is bound, until Ctrl-C."""
    uvicorn.Server(configured(app)).run(sockets=[listener])


def configured(app: Any) -> uvicorn.Config:
    """How it is served: nothing is written about who asks for what, and nothing large is taken in."""
    return uvicorn.Config(
        app,
        http=PageGuard,
        ws=SocketGuard,
        ws_max_size=LONGEST_MESSAGE,
        ws_per_message_deflate=False,
        ws_ping_interval=PING_S,
        ws_ping_timeout=PING_S,
        log_config=None,
        # What others send that makes no sense is not news to the teacher, nor is there room for it on their screen.
        log_level="error",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        timeout_graceful_shutdown=2,
    )
