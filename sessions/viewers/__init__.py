"""What an audience takes: a page or a soundtrack of a blind test, and what comes of their answers."""
