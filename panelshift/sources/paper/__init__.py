"""A draft on paper: photos or scans with printed cards beside it, made one drawing in true size.

In: pictures and one length measured on the paper. Out: a raster in true size, and its lines as a
Drawing.
"""
