"""Mutation testing of the geometric core; see README.md here."""
