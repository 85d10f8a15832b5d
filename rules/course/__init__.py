"""A tree through days: the journal folded in, hour after hour, by the physics."""
