"""What a plant is: species and their hardiness, and how far its year has come."""
