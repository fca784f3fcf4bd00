"""The tablet set up: its settings, what is connected, its key, its voice."""
