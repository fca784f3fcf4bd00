"""What must be done: step lists, read from TOML files.

Holds the types, the loader, the checker with line-precise errors and the
generated JSON Schema. Reads files; touches no journal, photo, device or screen.
"""
