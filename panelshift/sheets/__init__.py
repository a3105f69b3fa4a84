"""Things drawn in millimetres.

In: curves and words with their kinds. Out: sheets, and the files and pictures made of them.
"""
