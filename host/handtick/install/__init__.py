"""Puts the firmware on a board's drive; whenever it is cut off, the drive is old, new, or says it is incomplete."""

from handtick.install.drive import DriveFiles, Folder, find_drives
from handtick.install.plan import Plan, make_plan
from handtick.install.steps import Difference, compare, install

__all__ = ["Difference", "DriveFiles", "Folder", "Plan", "compare", "find_drives", "install", "make_plan"]
