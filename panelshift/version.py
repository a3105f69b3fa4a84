"""The version, apart from the package that exports it: parts of it need no more than that."""

__version__ = "0.1.0"
