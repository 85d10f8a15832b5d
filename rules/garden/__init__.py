"""What stands in the garden, what was done to it and when, and what was measured there."""
