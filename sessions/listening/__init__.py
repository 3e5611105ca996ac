"""Taking a test: sessions, trials, playback. It knows nothing of results."""
