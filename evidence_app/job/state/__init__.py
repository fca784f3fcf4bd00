"""Where a job stands: an immutable value, folded from its events and nothing else."""
