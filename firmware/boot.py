"""handtick: runs once before USB starts, and opens a second serial port for the host's lines, beside the console."""

import usb_cdc

usb_cdc.enable(console=True, data=True)
