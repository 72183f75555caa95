"""Runs once before USB starts: opens a second serial port, so that the host's lines and the console do not mix."""

import usb_cdc

usb_cdc.enable(console=True, data=True)
