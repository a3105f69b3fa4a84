"""Files in and out: what is read has a bound, what is written is whole.

In come paths, bytes and texts of tables; out go bytes, rows of cells, and files that are never
half-written and never replace what somebody else wrote.
"""

from .writing import safe_name, temporary_names, write_whole

__all__ = ["safe_name", "temporary_names", "write_whole"]
