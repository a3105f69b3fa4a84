"""The job file: what the maker decides, read, checked and carried out."""

from .files import read_job
from .model import JobFile
from .resolve import Job, resolve
from .result import CutResult, cut

__all__ = ["CutResult", "Job", "JobFile", "cut", "read_job", "resolve"]
