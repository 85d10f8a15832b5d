"""The keeper's plans: days that suit a work, a work tried on paper, follow-ups, the winter."""
