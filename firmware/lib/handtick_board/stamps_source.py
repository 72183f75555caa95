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
    in x, 30
    in y, 1                 ; a one, so that no stamp is all zeros
    in pins, 1 [1]          ; 32 bits are in: the word goes out by itself
    jmp x-- high [1]        ; the second microsecond; X at zero falls through to the same place
high:
    jmp x-- look_high [2]   ; the contact is open
look_high:
    jmp pin high
    in x, 30
    in y, 1
    in pins, 1
    jmp x-- low             ; X at zero wraps to the same place
"""

#: Runs at each start, before the program: its word is the first one and says where the contact stands.
START_SOURCE = "mov x, ~null\nmov y, ~null\nin x, 30\nin y, 1\nin pins, 1"
