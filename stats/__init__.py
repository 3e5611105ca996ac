"""All that computes from plain numbers: no files, no clock, no hidden randomness."""
