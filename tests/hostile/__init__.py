"""Hostile packages, one defect each; see make.py."""
