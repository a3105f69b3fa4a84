"""Fuzzing: the harness, its seeds, and the crashers found; see README.md."""
