"""Writes the ticks of a log to files of open formats, one tick at a time, in constant memory."""

from handtick.export.csv_file import write_csv
from handtick.export.json_lines import tick_object, write_json_lines
from handtick.export.parquet_file import write_parquet
from handtick.export.vcd_file import write_vcd

__all__ = ["tick_object", "write_csv", "write_json_lines", "write_parquet", "write_vcd"]
