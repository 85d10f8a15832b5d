"""What a tree feels in each hour: one model a file, and ``exposure``, which runs them all."""
