"""Rendered scenes with known truth, for practice, the demo, the benchmarks and the tests."""
