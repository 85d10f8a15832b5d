"""What a tree can bear, on whose word, and what recent work changes about that."""
