"""Many jobs: carried out by any executor, each by itself, and only where something changed."""

from .clients import ClientTable, read_table
from .jobs import BatchJob, Outcome
from .running import Progress, run_many

__all__ = ["BatchJob", "ClientTable", "Outcome", "Progress", "read_table", "run_many"]
