"""panelshift: turn of cloth for corset patterns."""

__version__ = "0.1.0"
