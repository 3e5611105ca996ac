"""Cues that could name a setup: one module per family of cue, one finding type for all."""
