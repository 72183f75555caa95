"""The options that every command takes, wherever on the line they stand."""

from __future__ import annotations

from handtick.errors import UsageError

#: Each global option, and whether it takes a value.
GLOBAL_OPTIONS = {"--board": True, "--log": True, "--wiring": True, "--json": False, "--quiet": False}


def hoisted(words: list[str]) -> list[str]:
    """The words of a command line with the global options in front, where the parser looks for them.

    Raises:
        UsageError: an option that takes a value stands without one.
    """
    front: list[str] = []
    rest: list[str] = []
    place = 0
    while place < len(words):
        word = words[place]
        name, equals, _ = word.partition("=")
        if word == "--":
            rest += words[place:]
            break
        if name not in GLOBAL_OPTIONS:
            rest.append(word)
        elif GLOBAL_OPTIONS[name] and not equals:
            value = words[place + 1 : place + 2]
            if not value or value[0].startswith("--"):
                raise UsageError(f"{name} needs a value after it")
            front += [name, *value]
            place += 1
        else:
            front.append(word)
        place += 1
    return front + rest
