"""A real job, killed at random moments again and again."""
