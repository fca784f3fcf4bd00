"""The guide: one state machine that runs a step list on one device.

Takes commands, refuses what is not due, and answers with the events it had
recorded; the rules are pure functions over the events. No screen, no SQL.
"""
