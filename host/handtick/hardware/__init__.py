"""How a board is wired to a machine: circuits made from the firmware's one pin map, and the files that show them.

Usage: ``python -m handtick.hardware FOLDER [--check]``; with ``--check`` nothing is written and stale files are named.
"""
