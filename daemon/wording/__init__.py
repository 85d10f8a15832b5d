"""How numbers, limits and advice are said, in words, in tables and as JSON."""
