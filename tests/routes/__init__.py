"""Drafts by cause, sent through other people's programs, and what is read of them."""
