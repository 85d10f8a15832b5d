"""What to do about findings: remedies tried through the physics, by when, and by whom."""
