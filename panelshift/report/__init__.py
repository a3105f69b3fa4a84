"""What the command line prints: tables for people, and the same facts for scripts."""
