"""The quality gate: whether a photo, or the live picture, can serve, check by check."""
