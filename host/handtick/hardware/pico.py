"""Pin numbers of the Raspberry Pi Pico (its data sheet)."""

from __future__ import annotations

#: Pin numbers of the Pico (its data sheet), by the name the board gives a pin.
PICO_PINS = {
    **{f"GP{number}": str(pin) for number, pin in enumerate((1, 2, 4, 5, 6, 7, 9, 10, 11, 12, 14, 15, 16, 17, 19, 20))},
    "GP16": "21",
    "GP17": "22",
    "GP18": "24",
    "GP19": "25",
    "GP20": "26",
    "GP21": "27",
    "GP22": "29",
    "GP26": "31",
    "GP27": "32",
    "GP28": "34",
}
PICO_GROUND, PICO_3V3 = "38", "36"
