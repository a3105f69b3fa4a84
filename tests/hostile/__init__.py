"""Hostile input: every bound that the reader and the assembly keep, and what never gets out."""
