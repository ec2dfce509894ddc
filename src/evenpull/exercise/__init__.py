"""Training exercises on the program's own models."""
