"""Cameras and microphones behind two small interfaces.

A device that is lost says so and is opened again when it returns. Knows nothing
of jobs or step lists.
"""
