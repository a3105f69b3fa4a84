"""Helpers shared by the tests: drafts drawn as SVG, the whole run, hypothesis strategies."""
