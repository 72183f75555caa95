"""Runs the server until it is interrupted."""

from __future__ import annotations

import asyncio
import contextlib
import socket
import sys
from typing import Any

import uvicorn

from handtick.classroom.asked import LONGEST_MESSAGE
from handtick.classroom.guard import PageGuard, SocketGuard

#: Seconds between two questions whether a page is still there, and for its answer.
PING_S = 5.0
#: Files that may be open at once: a connection is one, and some systems begin with 256.
FILES = 4096


def serve(app: Any, listener: socket.socket, waits_on_files: bool = False) -> None:
    """Serves an application on a socket that is bound, until Ctrl-C.

    Args:
        app: the application.
        listener: the socket.
        waits_on_files: whether the application waits for file descriptors to be ready, which the usual event loop of
            Windows can't.
    """
    allow_files(FILES)
    server = uvicorn.Server(configured(app))
    if not waits_on_files:
        server.run(sockets=[listener])
        return
    with asyncio.Runner(loop_factory=asyncio.SelectorEventLoop) as runner:
        runner.run(server.serve(sockets=[listener]))


def allow_files(wanted: int) -> None:
    """Lets this process have so many files open, or as many as the system allows."""
    if sys.platform != "win32":
        import resource

        soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
        if hard != resource.RLIM_INFINITY:
            wanted = min(wanted, hard)
        if soft != resource.RLIM_INFINITY and soft < wanted:
            with contextlib.suppress(OSError, ValueError):
                resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, hard))


def configured(app: Any) -> uvicorn.Config:
    """How it is served: nothing is written about who asks for what, and nothing large is taken in."""
    return uvicorn.Config(
        app,
        loop="asyncio",
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
