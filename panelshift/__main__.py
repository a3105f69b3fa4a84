"""Run the command line with ``python -m panelshift``."""

from .cli import main

main(prog_name="panelshift")
