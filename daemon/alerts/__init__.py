"""One pass: what is told now, what was told before, and the words of each message."""
