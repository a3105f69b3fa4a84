"""Many jobs: carried out by any executor, each by itself, and only where something changed."""

from .clients import ClientTable, iter_table, read_table
from .jobs import BatchJob, Outcome
from .running import Progress, iter_many, run_many

__all__ = [
    "BatchJob",
    "ClientTable",
    "Outcome",
    "Progress",
    "iter_many",
    "iter_table",
    "read_table",
    "run_many",
]
