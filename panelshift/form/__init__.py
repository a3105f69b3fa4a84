"""The body as it was measured.

In: a scan or a dress form as a mesh, curves traced round it, or tapes. Out: sections in one
frame with their heights, what was found out about them and how sure that is, and a section file
that jobs use.
"""
