"""Files in and out: what is read has a bound, what is written is whole.

In come paths, bytes and texts of tables; out go bytes, rows of cells, and files that are never
half-written and never replace what somebody else wrote.
"""

from .reading import read_bounded, utf8_text
from .writing import output_error, safe_name, temporary_names, write_whole

__all__ = [
    "output_error",
    "read_bounded",
    "safe_name",
    "temporary_names",
    "utf8_text",
    "write_whole",
]
