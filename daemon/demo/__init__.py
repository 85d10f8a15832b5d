"""An invented garden and week, run through the real path."""
