"""What a tree feels, what it can bear, what to do: pure functions on arrays and frozen models."""
