"""What a photo says: pure functions on bytes and arrays.

Judges whether a photo can serve as evidence and measures on it, in millimetres
and degrees, with a stated uncertainty. Touches no file, journal, device or screen.
"""
