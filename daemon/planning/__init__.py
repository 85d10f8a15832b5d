"""The keeper's plans: days that suit a work, a work tried on paper, what is due, the winter."""
