"""The core: pure functions on arrays and frozen models. No clock, file, network or database."""
