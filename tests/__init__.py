"""The tests, under one name wherever they are run: what they share is imported once."""
