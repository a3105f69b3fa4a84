"""Pages that anyone can print, tape and cut from: PDF at true size.

In: sheets, or the layers of a shifted pattern, and the paper. Out: PDF documents.
"""

from .paper import PAPERS, Paper, parse_paper
from .tiling import PageGrid, PageOptions

__all__ = ["PAPERS", "PageGrid", "PageOptions", "Paper", "parse_paper"]
