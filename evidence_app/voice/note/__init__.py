"""A voice note: recorded so that a cut costs at most its last second, then kept bit for bit."""
