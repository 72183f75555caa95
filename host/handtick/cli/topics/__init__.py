"""The commands with their arguments and options, by topic. What each does is in a module of its own, imported late."""
