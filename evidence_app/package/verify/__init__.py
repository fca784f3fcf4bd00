"""Checking a package from the outside in, trusting nothing in it.

Reads packages, key lists and keys; writes nothing.
"""
