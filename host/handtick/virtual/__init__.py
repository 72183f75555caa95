"""The built-in board: the firmware's own modules on simulated pins, clocking a simulated machine."""
