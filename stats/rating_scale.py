"""The scale on which words are rated, and how ratings are taken to spread where a power is simulated."""

LEAST, MOST = 0, 9  # one digit, one key; our choice
SPREAD = 1.5  # points, of one setup's ratings from trial to trial before they are rounded; our choice
