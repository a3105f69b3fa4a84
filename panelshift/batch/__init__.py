"""Many jobs: carried out by any executor, each by itself, and only where something changed."""

from .jobs import BatchJob, Outcome
from .running import Progress, run_many
from .table import ClientTable, read_table

__all__ = ["BatchJob", "ClientTable", "Outcome", "Progress", "read_table", "run_many"]
