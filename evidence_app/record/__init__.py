"""What happened: an append-only, hash-chained journal and the originals it names.

The only room that writes a job's folder: every original is durable before the
event that names it is committed, and recovery after a power cut deletes nothing.
Knows nothing of step lists, photos' content or screens.
"""
