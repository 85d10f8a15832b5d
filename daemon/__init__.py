"""The shell around the rules: everything that touches the world."""
