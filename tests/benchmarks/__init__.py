"""Measured comparisons, run by hand: ``python -m tests.benchmarks``. They report and assert nothing."""
