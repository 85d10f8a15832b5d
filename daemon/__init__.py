"""The shell: everything that touches the world."""
