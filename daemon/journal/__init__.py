"""What the keeper did and saw: noted, taken back, and written into the garden's file."""
