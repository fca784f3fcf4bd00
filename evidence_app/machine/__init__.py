"""What works on this machine: each part of it tried, with what to do where one does not.

It may open cameras and microphones, play nothing aloud, and write one file for a moment into
the app's own folder; it shows nothing itself.
"""
