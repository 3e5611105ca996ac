"""Measured data: curves read, taken, computed and drawn. What is not valid is marked, never silently extended."""
