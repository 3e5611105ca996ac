"""What the operator's desk shows and does, as records and deeds. It knows no web, and results of ended plans alone."""
