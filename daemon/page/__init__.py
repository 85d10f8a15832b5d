"""The page: the garden at a glance, from the phone. Needs the extra ``page``."""
