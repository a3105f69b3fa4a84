"""What the maker asks before cutting: finished sizes, trust, and what happens otherwise."""
