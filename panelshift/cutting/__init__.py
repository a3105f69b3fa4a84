"""Cutting files: cut lines, sheets and how they are written."""
