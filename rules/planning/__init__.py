"""Where a tree is to be, when a work suits it, what follows, what the winter asks for."""
