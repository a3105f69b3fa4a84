"""Files in and out: what is read has a bound, what is written is whole.

In come paths, bytes and texts of tables; out go bytes, rows of cells, and files that are never
half-written and never replace what somebody else wrote.
"""

from .contents import NoFileError, csv_bytes, file_bytes, parse_table, read_bounded, read_text
from .writing import output_error, safe_name, temporary_names, write_whole

__all__ = [
    "NoFileError",
    "csv_bytes",
    "file_bytes",
    "output_error",
    "parse_table",
    "read_bounded",
    "read_text",
    "safe_name",
    "temporary_names",
    "write_whole",
]
