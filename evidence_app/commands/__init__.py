"""The command line: one module for each command, each function thin.

Parses what was typed, calls the room that knows, prints plain sentences. No
rule of the job and no format lives here.
"""
