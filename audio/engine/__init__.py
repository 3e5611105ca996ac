"""Playback: a PortAudio stream in a process of its own, and the client that steers it."""
