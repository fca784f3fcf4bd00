"""The tablet's camera: the live picture and what it shows already, codes, the practice view."""
