"""How it is sewn: what each layer really lies over, and what it needs for that."""
