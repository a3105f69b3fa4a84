"""What the commands print: tables for people, and the same facts as plain data for scripts."""
