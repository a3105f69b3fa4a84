"""Speed and memory, measured outside the test run: see performance.md."""
