"""Measured data in the casebook: brought in, taken, computed, compared and drawn."""
