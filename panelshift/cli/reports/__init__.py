"""What the commands print: results in, text for people out, or plain data for scripts."""
