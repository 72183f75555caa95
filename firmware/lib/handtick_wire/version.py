"""The one place the version stands: the host's package, the firmware and the greeting read it here."""

__version__ = "0.1.0"
