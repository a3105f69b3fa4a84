"""Pages that anyone can print, tape and cut from: PDF at true size."""

from .paper import PAPERS, Paper, parse_paper
from .tiling import Grid, PageOptions

__all__ = ["PAPERS", "Grid", "PageOptions", "Paper", "parse_paper"]
