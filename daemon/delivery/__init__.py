"""How messages reach phones, and how the garden's state reaches a broker."""
