"""Cutting files: cut lines, panels and the sheets of each layer, before any file format.

In: a shifted pattern and the maker's plan. Out: a sheet of each layer, and of all together.
"""
