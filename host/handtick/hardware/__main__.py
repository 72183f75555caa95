"""Writes the files of ``hardware/``, or says which are not what the pin map gives."""

from __future__ import annotations

import sys
from pathlib import Path

from handtick.hardware.files import hardware_files


def main(arguments: list[str]) -> int:
    """Writes or, with ``--check``, compares; returns the exit status."""
    folder = Path(arguments[0])
    stale = 0
    for name, text in hardware_files().items():
        path = folder / name
        if path.is_file() and path.read_text(encoding="utf-8") == text:
            continue
        stale += 1
        if "--check" in arguments:
            print(f"{path} is not what the pin map gives; run: make hardware", file=sys.stderr)
        else:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8", newline="\n")
            print(f"wrote {path}")
    return 1 if stale and "--check" in arguments else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
