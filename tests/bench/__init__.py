"""Speed and memory, measured outside the test run: see docs/performance.md."""
