"""What came of a test: answers, statistics, verdicts, verification, and their sentences."""
