"""The practice room: rendered scenes with known truth, practice devices and clock.

Training, the demo and the tests use it. A job run with it is marked as practice
and can never pass for a real one.
"""
