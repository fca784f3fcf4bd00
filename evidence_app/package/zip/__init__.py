"""The package as a ZIP file: which names it may hold, writing it, judging and reading it.

Nothing in a package is read before its directory was judged.
"""
