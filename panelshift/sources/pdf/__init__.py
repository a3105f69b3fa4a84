"""Reading drafted panels from PDF.

In: a PDF file's bytes. Out: a Drawing of one of its pages, or of tiled pages joined. `opening`
opens, `walk` follows what is drawn with `letters`, `reading` makes drawings of pages, `joined` puts
tiled pages together; `read_pdf` chooses.
"""

from .choosing import page_words, read_pdf
from .reading import PdfPage, read_pages

__all__ = ["PdfPage", "page_words", "read_pages", "read_pdf"]
