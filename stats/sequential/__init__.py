"""Tests that may stop early without cheating: where they stop, and exactly what that costs and gains."""
