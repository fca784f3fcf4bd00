"""Where and why repairs stop: counts, proportions and their limits, table and picture."""
