"""How loud: loudness, true peak, weighting, channel layout."""
