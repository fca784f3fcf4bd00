"""The summary of a job: what was required, what was recorded, how it ended.

Reads a journal and its step list and nothing else, and trusts neither to be well formed.
Writes nothing; sealing, checking and the report make the same summary from the same journal.
"""
