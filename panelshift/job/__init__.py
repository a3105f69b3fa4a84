"""The job file: what the maker decides, read, checked and carried out."""

from .model import JobFile
from .resolved import Job, resolve
from .result import CutResult, cut
from .toml import read_job

__all__ = ["CutResult", "Job", "JobFile", "cut", "read_job", "resolve"]
