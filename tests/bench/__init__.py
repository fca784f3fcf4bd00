"""Benchmarks; see __main__."""
