"""The garden's own sensors: how readings come in, and what is learned from them."""
