"""When a work suits a tree, what follows a work, and what the winter asks for."""
