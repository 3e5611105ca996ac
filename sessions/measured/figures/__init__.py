"""The figures of a setup's curves: each computed once, and drawn from the very numbers that `--json` prints."""
