"""What can go wrong: one file for each hazard, and findings where a limit is crossed."""
