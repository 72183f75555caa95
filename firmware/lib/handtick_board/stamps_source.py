"""The PIO program that stamps the tick button as text, in the assembly language of the RP2040 datasheet.

The board never reads this file: ``edge_stamps.py`` has the words, and a test assembles this text and compares.
"""

SOURCE = """
.program edge_stamps
low:
    jmp x-- look_low        ; the contact is closed: count a microsecond
look_low:
    jmp pin rose
    jmp low [1]
rose:
    in x, 31
    in pins, 1 [2]          ; 32 bits are in: the word goes out by itself
    jmp x-- high [1]        ; the second microsecond; X at zero falls through to the same place
high:
    jmp x-- look_high       ; the contact is open
look_high:
    jmp pin still_high
    jmp fell
still_high:
    jmp high [1]
fell:
    in x, 31
    in pins, 1 [1]
    jmp x-- low [1]         ; X at zero wraps to the same place
"""

#: Runs once at the start.
START_SOURCE = "mov x, ~null"

#: Run by hand.
PROBE_SOURCE = "in x, 31\nin pins, 1"
