"""What is kept: one SQLite file, its tables, and copies of it."""
