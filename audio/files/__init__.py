"""Audio files: reading, writing, containers."""
