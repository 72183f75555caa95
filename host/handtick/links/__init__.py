"""How bytes travel between the host and a board: the only part of the host that does I/O with one."""

from handtick.links.base import Link

__all__ = ["Link"]
