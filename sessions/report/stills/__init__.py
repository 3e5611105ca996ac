"""Stills: figures, verdict cards and lists of words for a video, as PNG."""
