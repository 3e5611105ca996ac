"""Where one recording lies against another: by a known signal, by the music itself, with a drifting clock. Pure."""
