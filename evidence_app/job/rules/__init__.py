"""The rules of a job: pure functions from state and command to the events it causes.

No clock, disk or screen: what time it is and what was stored is handed in.
"""
