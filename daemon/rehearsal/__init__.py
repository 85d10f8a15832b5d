"""The same passes over weather that is known: what would have been told."""
