"""Panels, seams and patterns, and how drawn shapes are put together into them."""
