"""An extension of a drawing program: what it asks, and the script that the program runs."""
