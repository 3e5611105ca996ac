"""Plans, seals and keys; running a method; verdicts and their verification."""
